package store

import "pawl/model/people"

// People gives everybody, by folded name; left ones too.
func (r *Rx) People() ([]people.Person, error) {
	return many[people.Person](r, "name_key, id", 0, "id <> ''")
}

// Person gives one by id.
func (r *Rx) Person(id string) (people.Person, bool, error) {
	return one[people.Person](r, "id = ?", id)
}

// Tokens gives every token, by name.
func (r *Rx) Tokens() ([]people.Token, error) {
	return many[people.Token](r, "name, id", 0, "id <> ''")
}

// Token gives one by id.
func (r *Rx) Token(id string) (people.Token, bool, error) { return one[people.Token](r, "id = ?", id) }

// TokenNamed gives the token in force of that name.
func (r *Rx) TokenNamed(name string) (people.Token, bool, error) {
	return one[people.Token](r, "name = ? AND revoked IS NULL", name)
}

// KeepSecret keeps the hash of a token's secret.
func (tx *Tx) KeepSecret(hash []byte, token string) error {
	_, err := tx.exec("INSERT INTO secrets (hash, token) VALUES (?, ?)", hash, token)
	return err
}

// DropSecret forgets a token's secret: it opens nothing any more.
func (tx *Tx) DropSecret(token string) error {
	_, err := tx.exec("DELETE FROM secrets WHERE token = ?", token)
	return err
}

// TokenOfSecret gives the id of the token with that hashed secret, or "".
func (r *Rx) TokenOfSecret(hash []byte) (id string, err error) {
	err = r.query(func(scan func(...any) error) error { return scan(&id) }, "SELECT token FROM secrets WHERE hash = ?", hash)
	return id, err
}
