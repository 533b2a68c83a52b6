package cli

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"net/url"
	"strings"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

func (p *program) placesCommand() *cli.Command {
	return &cli.Command{
		Name: "places", Usage: "list, add, show and move places",
		Description: `pawl places
pawl places add "Bay 1/Cart"
pawl places show "Bay 1/Cart"
pawl places move "Bay 1/Cart" --to "Bay 2"`,
		Action:      action(p, parseNothing, runPlaces),
		Subcommands: append(p.placesKept(), p.placesLooked()...),
	}
}

// placesKept are the words after `places` by which the tree is kept.
func (p *program) placesKept() []*cli.Command {
	return []*cli.Command{
		{
			Name: "add", Usage: "add a place, with what it is in",
			Description: `pawl places add "Bay 1/Cart/Drawer 2"
pawl places add "Van 2" --person "Tech A"`,
			ArgsUsage: "PATH",
			Flags:     []cli.Flag{value("person", "it is that of the person called `NAME`")},
			Action:    action(p, parsePlacesAdd, runPlacesAdd),
		},
		{
			Name: "show", Usage: "show what belongs in a place, and where it is now",
			Description: `pawl places show "Bay 1/Cart"
pawl places show P/7K2M9AB4 --json`,
			ArgsUsage: "PATH",
			Action:    action(p, parsePlace, runPlacesShow),
		},
		{
			Name: "rename", Usage: "give a place another name",
			Description: `pawl places rename "Bay 1/Cart" "Red cart"`,
			ArgsUsage:   "PATH NAME",
			Action:      action(p, parsePlacesRename, runPlacesRename),
		},
		{
			Name: "move", Usage: "put a place, with all that is in it, into another",
			Description: `pawl places move "Bay 1/Cart" --to "Bay 2"
pawl places move "Bay 1/Cart" --to ""`,
			ArgsUsage: "PATH",
			Flags:     []cli.Flag{value("to", "the `PLACE` that it goes into; empty for the top")},
			Action:    action(p, parsePlacesMove, runPlacesMove),
		},
		{
			Name: "whose", Usage: "say whose place it is: a technician's own box",
			Description: `pawl places whose "Bay 1/Box" --person "Tech A"
pawl places whose "Bay 1/Box" --person ""`,
			ArgsUsage: "PATH",
			Flags:     []cli.Flag{value("person", "it is that of the person called `NAME`; empty for everybody's")},
			Action:    action(p, parsePlacesWhose, runPlacesWhose),
		},
	}
}

// placesLooked are those for a drawer as it is, and for its end.
func (p *program) placesLooked() []*cli.Command {
	return []*cli.Command{
		{
			Name: "photo", Usage: "add a photo of the full drawer; everybody in the shop sees it",
			Description: `pawl places photo "Bay 1/Cart" drawer.jpg`,
			ArgsUsage:   "PATH FILE",
			Action:      action(p, parsePlacesPhoto, runPlacesPhoto),
		},
		{
			Name: "sheet", Usage: "draw the sheet that lies in a drawer: what belongs there, to be ticked by hand",
			Description: `pawl places sheet "Bay 1/Cart" -o drawer.pdf
pawl places sheet "Bay 1" --below -o bay.pdf
pawl places sheet -o all.pdf`,
			ArgsUsage: "[PATH]",
			Flags: []cli.Flag{
				yes("below", "a page too for each place in it"),
				value("unprintable", "`WHAT` becomes of letters that are not Latin, Greek or Cyrillic: refuse, or mark, each as ?"),
				toFile("write to `FILE`; - is stdout"),
			},
			Action: action(p, parsePlacesSheet, runPlacesSheet),
		},
		{
			Name: "close", Usage: "close a place that nothing belongs in; its code is not used again",
			Description: `pawl places close "Bay 1/Cart"`,
			ArgsUsage:   "PATH",
			Action:      action(p, parsePlace, runPlacesClose),
		},
	}
}

func runPlaces(ctx context.Context, s *session, _ struct{}) error {
	all, err := s.client.Places(ctx)
	if err != nil {
		return err
	}
	return list(ctx, s, all, []string{"PLACE", "CODE", "WHOSE"}, all.Places, func(p wire.Place) []string { return []string{p.Path, p.Code, text(p.Person)} })
}

func parsePlacesAdd(c *cli.Context) (in wire.NewPlace, err error) {
	if in.Path, err = parsePlace(c); err == nil && c.IsSet("person") {
		in.Person, err = need(c, "person", `"Tech A"`)
	}
	return in, err
}

func parsePlace(c *cli.Context) (place string, err error) {
	paths, err := operands(c, 1, 1, "a PATH")
	if err != nil {
		return "", err
	}
	return paths[0], nil
}

func runPlacesAdd(ctx context.Context, s *session, in wire.NewPlace) error {
	place, err := s.client.AddPlace(ctx, in)
	return s.placed(place, err, "added")
}

// placed says what was done with a place.
func (s *session) placed(p wire.Place, err error, done string) error {
	switch {
	case err != nil:
		return err
	case s.json:
		return s.object(p)
	}
	return s.changed(p.Path+" "+done, p.Path, done, p.Code)
}

func runPlacesShow(ctx context.Context, s *session, place string) error {
	v, err := s.client.Place(ctx, place)
	switch {
	case err != nil:
		return err
	case s.json:
		return s.object(v)
	}
	fields := []field{{"place", v.Path}, {"code", v.Code}, {"whose", text(v.Person)}, {"belong", countsOf(v.PlaceCounts)}}
	if len(v.Photos) > 0 {
		fields = append(fields, field{"photo", v.Photos[0].SHA256 + ", received " + s.when(v.Photos[0].ReceivedAt)})
	}
	for _, part := range v.Parts {
		fields = append(fields, field{"in it", part.Path + ": " + countsOf(part.PlaceCounts)})
	}
	for _, t := range v.Tools {
		fields = append(fields, field{t.Number, joined(", ", joined(" ", kindOf(t.Kind), t.Maker, t.Model), pieceList(t.Pieces), s.placeNow(t))})
	}
	for _, t := range v.Seen {
		fields = append(fields, field{t.Number, joined(", ", joined(" ", kindOf(t.Kind), t.Maker, t.Model), "SEEN HERE, BELONGS ELSEWHERE: "+homeOf(t), "seen "+s.when(t.SeenAt)+" by "+t.SeenBy+", count "+t.SeenIn, heldNow(t.ToolRow))})
	}
	if v.More {
		s.note(`more belong there: pawl find --place "` + v.Path + `"`)
	}
	return s.record(fields)
}

// homeOf is where a tool belongs.
func homeOf(t wire.SeenTool) string {
	if t.Place == nil {
		return "no place is recorded"
	}
	return *t.Place
}

// heldNow says who has a tool, where somebody does.
func heldNow(t wire.ToolRow) string {
	if t.Person == nil {
		return ""
	}
	return "by the record " + t.State + ": " + *t.Person
}

func countsOf(c wire.PlaceCounts) string {
	said := fmt.Sprintf("%d belong there: %d in place, %d out, %d away", c.Belong, c.InPlace, c.Out, c.Away)
	if c.Missing > 0 {
		said += fmt.Sprintf(", %d MISSING", c.Missing)
	}
	return said
}

// placeNow says where a tool is that belongs in a place.
func (s *session) placeNow(t wire.PlaceTool) string {
	now := t.State
	if t.MissingIn != nil {
		now = "MISSING since count " + *t.MissingIn
		if t.Person != nil {
			now += "; by the record " + t.State
		}
	}
	if t.Person != nil {
		now += ": " + *t.Person + prefixed(", job ", text(t.Job)) + prefixed(", for ", text(t.For)) + prefixed(", since ", s.when(t.Since)) + prefixed(", due ", s.when(t.Due))
	}
	return joined(", ", prefixed("DO NOT USE: ", text(t.DoNotUse)), prefixed("NOT COMPLETE: ", pieceList(t.Missing)), now)
}

type placeAsked struct{ place, value string }

func parsePlacesRename(c *cli.Context) (o placeAsked, err error) {
	all, err := operands(c, 2, 2, "a PATH and a NAME")
	if err == nil {
		o = placeAsked{all[0], all[1]}
	}
	return o, err
}

func runPlacesRename(ctx context.Context, s *session, o placeAsked) error {
	p, err := s.client.RenamePlace(ctx, o.place, wire.PlaceName{Name: o.value})
	return s.placed(p, err, "renamed")
}

// placeFlag reads a place and a flag that must be there, and may be empty.
func placeFlag(c *cli.Context, name, example string) (o placeAsked, err error) {
	if o.place, err = parsePlace(c); err == nil && !c.IsSet(name) {
		_, err = need(c, name, example)
	}
	o.value = c.String(name)
	return o, err
}

func parsePlacesMove(c *cli.Context) (placeAsked, error) { return placeFlag(c, "to", `"Bay 2"`) }

func runPlacesMove(ctx context.Context, s *session, o placeAsked) error {
	p, err := s.client.MovePlace(ctx, o.place, wire.PlaceMove{To: o.value})
	return s.placed(p, err, "moved")
}

func parsePlacesWhose(c *cli.Context) (placeAsked, error) {
	return placeFlag(c, "person", `"Tech A"`)
}

func runPlacesWhose(ctx context.Context, s *session, o placeAsked) error {
	p, err := s.client.GivePlace(ctx, o.place, wire.PlacePerson{Person: o.value})
	return s.placed(p, err, "is "+cmp.Or(text(p.Person), "everybody")+"'s")
}

func runPlacesClose(ctx context.Context, s *session, place string) error {
	p, err := s.client.ClosePlace(ctx, place)
	return s.placed(p, err, "closed")
}

func parsePlacesPhoto(c *cli.Context) (o placeAsked, err error) {
	all, err := operands(c, 2, 2, "a PATH and a photo FILE")
	if err == nil {
		o = placeAsked{all[0], all[1]}
	}
	return o, err
}

func runPlacesPhoto(ctx context.Context, s *session, o placeAsked) error {
	named, _, err := s.send(ctx, paper{kind: "drawer", file: o.value})
	if err != nil {
		return err
	}
	p, err := s.client.PhotographPlace(ctx, o.place, wire.PlacePhoto{SHA256: named.SHA256, Name: named.Name})
	return s.placed(p, err, "photographed")
}

type sheetOptions struct {
	what, output string
	settings     url.Values
}

func parsePlacesSheet(c *cli.Context) (o sheetOptions, err error) {
	paths, err := operands(c, 0, 1, "")
	if err != nil {
		return o, err
	}
	o.what, o.settings = "drawers", url.Values{}
	if len(paths) == 1 {
		o.settings.Set("name", paths[0])
		if strings.TrimSpace(paths[0]) == "" {
			return o, fault.New(fault.Malformed, "the PATH is empty").WithHint("leave it out for the whole tree")
		}
		if !c.Bool("below") {
			o.what = "drawer"
		}
	}
	if c.IsSet("unprintable") {
		o.settings.Set("unprintable", c.String("unprintable"))
	}
	o.output, err = need(c, "output", "drawer.pdf, or -o - for stdout")
	return o, err
}

func runPlacesSheet(ctx context.Context, s *session, o sheetOptions) error {
	return s.toFile(o.output, 0o644, func(w io.Writer) ([]string, error) {
		return nil, s.client.Print(ctx, o.what, o.settings, w)
	})
}
