package cli

import (
	"context"
	"fmt"
	"os"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

func (p *program) tokenCommand() *cli.Command {
	return &cli.Command{
		Name: "token", Usage: "make, list and revoke ways in for scripts",
		Description: `pawl token add "bench script" --role technician --for "Tech A" -o bench.token
pawl --server https://tools.example --token-file bench.token take 00E-KM5 --to "Tech A"
pawl token revoke A-12345678`,
		Subcommands: []*cli.Command{
			{
				Name: "add", Usage: "make a token; its secret is written once",
				Description: `pawl token add "bench script" --role technician --for "Tech A" -o bench.token`,
				ArgsUsage:   "NAME",
				Flags: []cli.Flag{
					value("role", "`ROLE`: manager, technician or viewer"),
					value("for", "it acts as the person called `NAME`; else as the shop"),
					toFile("write the secret to `FILE`, new and yours alone (mode 0600); - is stdout"),
				},
				Action: action(p, parseTokenAdd, runTokenAdd),
			},
			{
				Name: "list", Usage: "list the tokens, without their secrets",
				Description: `pawl token list`,
				Action:      action(p, parseNothing, runTokenList),
			},
			{
				Name: "revoke", Usage: "end a token at once",
				Description: `pawl token revoke A-12345678`,
				ArgsUsage:   "ID",
				Action:      action(p, parseTokenRevoke, runTokenRevoke),
			},
		},
	}
}

type tokenAddOptions struct {
	wire.NewToken
	output string
}

func parseTokenAdd(c *cli.Context) (o tokenAddOptions, err error) {
	names, err := operands(c, 1, 1, "a NAME")
	if err != nil {
		return o, err
	}
	o.Name, o.For = names[0], c.String("for")
	if o.Role, err = need(c, "role", "technician"); err != nil {
		return o, err
	}
	o.output, err = need(c, "output", "FILE, or -o - for stdout")
	return o, err
}

func runTokenAdd(ctx context.Context, s *session, o tokenAddOptions) error {
	if _, err := os.Lstat(o.output); err == nil && o.output != "-" {
		return fault.New(fault.Conflict, "%s is there already", o.output).WithHint("a token is not written over another; choose a new name")
	}
	file, err := create(o.output, s.out, 0o600)
	if err != nil {
		return err
	}
	defer file.drop()
	token, err := s.client.AddToken(ctx, o.NewToken)
	if err != nil {
		return err
	}
	if o.output == "-" && s.json {
		return s.object(token)
	}
	if token.Secret == "" {
		return fault.New(fault.Conflict, "the secret of token %s was shown before, and is not shown twice", token.ID).
			WithHint("revoke it and make another: pawl token revoke %s", token.ID)
	}
	if _, err := fmt.Fprintln(file, token.Secret); err != nil {
		return cannotWrite(o.output, err)
	}
	if err := file.keep(); err != nil || o.output == "-" {
		return err
	}
	token.Secret = ""
	if s.json {
		return s.object(token)
	}
	return s.changed(fmt.Sprintf("token %s (%s) is in %s; it is shown nowhere else", token.Name, token.ID, o.output), tokenRow(s, token)...)
}

func tokenRow(s *session, t wire.Token) []string {
	return []string{t.ID, t.Name, t.Role, text(t.For), s.when(t.Revoked)}
}

func runTokenList(ctx context.Context, s *session, _ struct{}) error {
	all, err := s.client.Tokens(ctx)
	if err != nil {
		return err
	}
	return list(ctx, s, all, []string{"ID", "NAME", "ROLE", "FOR", "REVOKED"}, all.Tokens, func(t wire.Token) []string { return tokenRow(s, t) })
}

func parseTokenRevoke(c *cli.Context) (string, error) {
	ids, err := operands(c, 1, 1, "a token ID")
	if err != nil {
		return "", err
	}
	return ids[0], nil
}

func runTokenRevoke(ctx context.Context, s *session, id string) error {
	token, err := s.client.RevokeToken(ctx, id)
	if err != nil {
		return err
	}
	if s.json {
		return s.object(token)
	}
	return s.changed(fmt.Sprintf("token %s (%s) is revoked", token.Name, token.ID), tokenRow(s, token)...)
}
