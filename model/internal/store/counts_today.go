package store

// MoreToolsThan says whether more tools than that are registered, gone ones among
// them. It reads no more of them.
func (r *Rx) MoreToolsThan(n int) (more bool, err error) {
	err = r.query(func(scan func(...any) error) error {
		var found int
		err := scan(&found)
		more = found > n
		return err
	}, "SELECT count(*) FROM (SELECT 1 FROM tools LIMIT ?) AS registered", n+1)
	return more, err
}
