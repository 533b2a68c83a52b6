package store

// Recent gives the last lines about a tool, newest first.
func (r *Rx) Recent(tool string, limit int) (out []Entry, err error) {
	err = r.query(func(scan func(...any) error) error {
		var e Entry
		if err := scan(&e.Raw, &e.Salt, &e.After); err != nil {
			return err
		}
		out = append(out, e)
		return nil
	}, `SELECT l.line, l.salt, l.after FROM line_tools t JOIN lines l ON l.seq = t.seq
		WHERE t.tool = ? ORDER BY t.seq DESC LIMIT ?`, tool, limit)
	return out, err
}
