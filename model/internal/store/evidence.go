package store

import (
	"pawl/model/dates"
	"pawl/model/evidence"
)

// Evidence gives a tool's photos and papers, as received.
func (r *Rx) Evidence(tool string) ([]evidence.Record, error) {
	return many[evidence.Record](r, "received_at, id", 0, "tool = ? AND withdrawn IS NULL", tool)
}

// PhotosOfPlace gives the photos of a place, newest first.
func (r *Rx) PhotosOfPlace(place string) ([]evidence.Record, error) {
	return many[evidence.Record](r, "received_at DESC, id DESC", 0, "place = ? AND withdrawn IS NULL", place)
}

// EvidenceOf gives every record that names an original.
func (r *Rx) EvidenceOf(sha256 string) ([]evidence.Record, error) {
	return many[evidence.Record](r, "id", 0, "sha256 = ?", sha256)
}

// Upload is one original that somebody sent and may attach.
type Upload struct {
	SHA256    string
	Who       string // as recorded: the actor
	Made      dates.Instant
	Bytes     int64
	MediaType string
	Width     int64
	Height    int64
	ClaimedAt string
	Device    string

	ClaimedPlace string
}

// TableName names the table of uploads.
func (Upload) TableName() string { return "uploads" }

// UploadOf gives what that actor uploaded under the hash.
func (r *Rx) UploadOf(sha256, who string) (Upload, bool, error) {
	return one[Upload](r, "sha256 = ? AND who = ?", sha256, who)
}

// KeepUpload notes an upload; a repeat renews its time.
func (tx *Tx) KeepUpload(u Upload) error {
	tx.touched = true
	if _, err := tx.exec("DELETE FROM uploads WHERE sha256 = ? AND who = ?", u.SHA256, u.Who); err != nil {
		return err
	}
	_, err := tx.exec(`INSERT INTO uploads (sha256, who, made, bytes, media_type, width, height, claimed_at, device, claimed_place)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`, u.SHA256, u.Who, int64(u.Made), u.Bytes, u.MediaType, u.Width, u.Height, u.ClaimedAt, u.Device, u.ClaimedPlace)
	return err
}

// DropUploads forgets uploads made before a time.
func (tx *Tx) DropUploads(before dates.Instant) (int64, error) {
	n, err := tx.exec("DELETE FROM uploads WHERE made < ?", int64(before))
	tx.touched = tx.touched || n > 0
	return n, err
}

// Wanted says whether a record, a packet or an upload names the original.
func (r *Rx) Wanted(sha256 string) (bool, error) {
	n, err := r.count("SELECT (SELECT count(*) FROM evidence WHERE sha256 = ?) + (SELECT count(*) FROM uploads WHERE sha256 = ?) + (SELECT count(*) FROM packets WHERE statement = ?)",
		sha256, sha256, sha256)
	return n > 0, err
}

// Originals gives the hashes that records name, in order, after one.
func (r *Rx) Originals(after string, limit int) (out []string, err error) {
	err = r.query(func(scan func(...any) error) error {
		var h string
		if err := scan(&h); err != nil {
			return err
		}
		out = append(out, h)
		return nil
	}, "SELECT sha256 FROM (SELECT sha256 FROM evidence WHERE sha256 > ? UNION SELECT statement FROM packets WHERE statement > ?) named ORDER BY sha256 LIMIT ?", after, after, limit)
	return out, err
}

// OriginalSizes gives how long each of those originals was when it came, in bytes. One
// that is no photo or paper, but the statement of a packet, is not in it.
func (r *Rx) OriginalSizes(hashes []string) (map[string]int64, error) {
	rows, err := many[evidence.Record](r, "id", 0, "sha256 IN ?", hashes)
	out := map[string]int64{}
	for _, e := range rows {
		out[e.SHA256] = e.Bytes
	}
	return out, err
}
