package model

import (
	"context"
	"crypto/sha256"
	"encoding/base64"

	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/names"
	"pawl/model/people"
)

// NewToken is a way in to be made; For names the person it acts as.
type NewToken struct{ Name, Role, For string }

// TokenView is a token with the name of the one it acts as. Secret is there
// only in the answer that made it: it is kept nowhere, and a replay has none.
type TokenView struct {
	people.Token
	ForName string
	Secret  string `json:"-"`
}

// AddToken makes a way in for a script.
func (s *Shop) AddToken(ctx context.Context, by By, in NewToken) (TokenView, error) {
	return act(ctx, s, by, "token add", in, func(tx *store.Tx) (v TokenView, err error) {
		if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
			return v, err
		}
		var bad fault.Problems
		v.Name, err = names.Check(in.Name)
		bad.Keep("#/name", err)
		v.Role, err = people.ParseRole(in.Role)
		bad.Keep("#/role", err)
		if err := bad.Err(); err != nil {
			return v, err
		}
		if err := v.actFor(tx, by, in.For); err != nil {
			return v, err
		}
		if _, taken, err := tx.TokenNamed(v.Name); err != nil {
			return v, err
		} else if taken {
			return v, fault.New(fault.Conflict, "there is a token named %q in force", v.Name).WithHint("revoke it, or take another name")
		}
		if v.ID, err = tx.NewID('K'); err != nil {
			return v, err
		}
		raw := make([]byte, 32)
		if err := tx.Chance(raw); err != nil {
			return v, err
		}
		v.Secret = "pawl_" + base64.RawURLEncoding.EncodeToString(raw)
		if err := tx.KeepSecret(hashSecret(v.Secret), v.ID); err != nil {
			return v, err
		}
		return v, store.Put(tx, &v.Token)
	})
}

// actFor resolves the person a token acts as; it gives no more than they have.
// It shows what is theirs alone, so only they, or whoever holds the data folder,
// may have it made.
func (v *TokenView) actFor(tx *store.Tx, by By, name string) error {
	if name == "" {
		return nil
	}
	all, err := tx.People()
	if err != nil {
		return err
	}
	p, err := people.Match(all, name)
	if err != nil {
		return err
	}
	if by.Person != p.ID && !by.AtComputer() {
		return fault.New(fault.Forbidden, "a token for %s would show what is theirs alone", p.Name).
			WithHint("they have it made themselves, or it is made at the shop's computer")
	}
	if lesser(v.Role, p.Role) != v.Role {
		return fault.At("#/role", "%s is a %s; a token for them cannot be a %s's", p.Name, p.Role, v.Role)
	}
	v.Person, v.ForName = p.ID, p.Name
	return nil
}

// lesser gives the role that may do less.
func lesser(a, b people.Role) people.Role {
	for _, r := range []people.Role{people.Viewer, people.Technician} {
		if a == r || b == r {
			return r
		}
	}
	return a
}

func hashSecret(secret string) []byte {
	sum := sha256.Sum256([]byte(secret))
	return sum[:]
}

// Tokens gives every token, revoked ones too, without secrets.
func (s *Shop) Tokens(ctx context.Context, by By) (out []TokenView, err error) {
	if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
		return nil, err
	}
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		all, err := rx.Tokens()
		if err != nil {
			return err
		}
		n, err := readNames(rx)
		for _, t := range all {
			out = append(out, TokenView{Token: t, ForName: n.person(t.Person)})
		}
		return err
	})
	return out, err
}

// RevokeToken shuts a way in at once.
func (s *Shop) RevokeToken(ctx context.Context, by By, id string) (TokenView, error) {
	return act(ctx, s, by, "token revoke", id, func(tx *store.Tx) (v TokenView, err error) {
		if err := allowed(by, people.ShopActs, people.Object{}); err != nil {
			return v, err
		}
		if v.Token, err = load[people.Token](tx, id, "token "+id); err != nil {
			return v, err
		}
		if v.Revoked != 0 {
			return v, fault.New(fault.Conflict, "token %s was revoked already", id).WithFact("since", v.Revoked.String())
		}
		return v, revokeToken(tx, &v.Token)
	})
}

// revokeToken ends a token, its secret, and the links that it made and nobody
// took.
func revokeToken(tx *store.Tx, t *people.Token) error {
	t.Revoked = tx.Now()
	if err := tx.DropSecret(t.ID); err != nil {
		return err
	}
	if err := tx.DropEnrolmentsBy(Actor{Person: t.Person, Via: people.ViaToken, Token: t.ID}.Recorded()); err != nil {
		return err
	}
	return store.Put(tx, t)
}

// Authenticate turns a bearer secret into an actor, who may do no more than the
// person has the role for by now. Unknown and revoked ones are Unauthenticated,
// as are those of people who left.
func (s *Shop) Authenticate(ctx context.Context, secret string) (a Actor, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		id, err := rx.TokenOfSecret(hashSecret(secret))
		if err != nil || id == "" {
			return orElse(err, errUnknownToken())
		}
		a, err = actorOfToken(rx, id)
		return err
	})
	return a, err
}

func errUnknownToken() *fault.Error {
	return fault.New(fault.Unauthenticated, "this token opens nothing: it is unknown or was revoked").
		WithHint("ask a manager for a new one: pawl token add NAME --role technician -o FILE")
}

func actorOfToken(rx *store.Rx, id string) (Actor, error) {
	t, found, err := rx.Token(id)
	if err != nil || !found || t.Revoked != 0 {
		return Actor{}, orElse(err, errUnknownToken())
	}
	a := Actor{Person: t.Person, Role: t.Role, Via: people.ViaToken, Token: t.ID}
	if t.Person == "" {
		return a, nil
	}
	p, found, err := rx.Person(t.Person)
	if err != nil || !found || p.Left != 0 {
		return Actor{}, orElse(err, errUnknownToken())
	}
	a.Name, a.Role = p.Name, lesser(t.Role, p.Role)
	return a, nil
}

// orElse gives err, or what else is wrong where there is none.
func orElse(err, wrong error) error {
	if err != nil {
		return err
	}
	return wrong
}
