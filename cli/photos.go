package cli

import (
	"context"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"github.com/urfave/cli/v2"

	"pawl/api/wire"
	"pawl/model/fault"
)

// importPhotosFlags are the flags of an import that only photos take. The walk:
// for each tool its label, the whole tool, its plate; then the next label.
func importPhotosFlags() []cli.Flag {
	return []cli.Flag{value("place", "of photos: tools that they start belong in `PATH`")}
}

func (p *program) importPhotos(c *cli.Context, words []string) error {
	return action(p, func(c *cli.Context) (o importPhotosOptions, err error) {
		for _, other := range []string{"key", "against"} {
			if c.IsSet(other) {
				return o, fault.New(fault.Malformed, "--%s is for a copy, not for photos", other).WithHint("leave it out")
			}
		}
		if len(words) != 1 {
			return o, fault.New(fault.Malformed, "%s photos takes one folder", c.Command.HelpName).WithHint("such as: pawl import photos DCIM")
		}
		return importPhotosOptions{words[0], c.String("owner"), c.String("place")}, nil
	}, runImportPhotos)(c)
}

type importPhotosOptions struct{ folder, owner, place string }

// imported says what became of the photos of a folder.
type imported struct {
	Photos   int              `json:"photos"` // that were taken
	Tools    []importedTool   `json:"tools"`
	Unsorted []importedShot   `json:"unsorted"`
	Refused  []refusedFile    `json:"refused"`
	LeftOut  []string         `json:"left_out"` // files that are no photos
	Twice    []string         `json:"twice"`    // files that hold the same bytes as another
	Question []questionOfShot `json:"questions"`
}

type importedTool struct {
	Number  string `json:"number"`
	Started bool   `json:"started"`
	Filed   int    `json:"filed"`
	Already int    `json:"already"`
}

type importedShot struct {
	ID      string `json:"id"`
	File    string `json:"file"`
	Why     string `json:"why"`
	Already bool   `json:"already"`
}

type refusedFile struct {
	File    string  `json:"file"`
	Problem problem `json:"problem"`
}

type questionOfShot struct {
	Number   string `json:"number"`
	Question string `json:"question"`
}

func runImportPhotos(ctx context.Context, s *session, o importPhotosOptions) error {
	files, leftOut, err := photosIn(o.folder)
	if err != nil {
		return err
	}
	out := imported{Tools: []importedTool{}, Unsorted: []importedShot{}, Refused: []refusedFile{},
		LeftOut: append([]string{}, leftOut...), Twice: []string{}, Question: []questionOfShot{}}
	w := &walked{s: s, folder: o.folder, shots: make([]*wire.Shot, len(files)), known: map[string]bool{}}
	s.progress.count("reading photos", len(files))
	if err := w.look(ctx, files); err != nil {
		return err
	}
	shots, names := w.taken(files, &out)
	groups := wire.GroupShots(shots, func(number string) bool { return w.known[number] })
	s.progress.count("filing them under their tools", len(groups))
	for _, g := range groups {
		if err := s.fileGroup(ctx, o, g, names, &out); err != nil {
			return err
		}
		s.progress.step()
	}
	return s.sayImported(out, w.first)
}

// photoEndings are those of files that are taken for photos.
var photoEndings = []string{".jpg", ".jpeg", ".jpe", ".jfif", ".png", ".webp", ".heic", ".heif", ".hif"}

// photosIn lists the photos in a folder and below it, by name, without what is
// hidden.
func photosIn(folder string) (photos, others []string, err error) {
	err = filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return cannotRead(path, err)
		}
		name, _ := filepath.Rel(folder, path)
		switch {
		case name == "." && !d.IsDir():
			return fault.New(fault.Malformed, "%s is no folder", folder).WithHint("one photo: pawl evidence add NUMBER --photo FILE")
		case name != "." && strings.HasPrefix(d.Name(), "."):
			if d.IsDir() {
				return fs.SkipDir
			}
		case d.IsDir():
		case d.Type().IsRegular() && slices.Contains(photoEndings, strings.ToLower(filepath.Ext(name))):
			photos = append(photos, name)
		default:
			others = append(others, name)
		}
		return nil
	})
	return photos, others, err
}

// walked gathers what is seen in the photos.
type walked struct {
	s      *session
	folder string

	mu      sync.Mutex
	shots   []*wire.Shot // by file; nil: refused
	refused []refusedFile
	known   map[string]bool // numbers of labels that the shop gave out
	first   error           // the first refusal
}

// atOnce is how many photos are on their way at once; the shop decodes no more.
const atOnce = 2

// look uploads every photo and has its codes read. It stops at a failure that is
// not the photo's.
func (w *walked) look(ctx context.Context, files []string) error {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	next := make(chan int)
	var all sync.WaitGroup
	for range atOnce {
		all.Go(func() {
			for i := range next {
				if err := w.one(ctx, i, files[i]); err != nil {
					stop(err)
				}
			}
		})
	}
	for i := range files {
		select {
		case next <- i:
		case <-ctx.Done():
		}
		if ctx.Err() != nil {
			break
		}
	}
	close(next)
	all.Wait()
	return context.Cause(ctx)
}

// one looks at one photo. What the shop does not take as a photo is noted.
func (w *walked) one(ctx context.Context, i int, file string) error {
	sent, original, err := w.s.send(ctx, paper{kind: "other", file: filepath.Join(w.folder, file)})
	if err != nil {
		if k := fault.Of(err).Kind; k != fault.Invalid && k != fault.Media && k != fault.TooLarge {
			return err
		}
		w.refuse(file, err)
		return nil
	}
	shot := wire.Shot{SHA256: sent.SHA256, Name: file, ClaimedAt: text(original.ClaimedAt)}
	codes, err := w.s.client.Codes(ctx, sent.SHA256)
	switch {
	case fault.Is(err, fault.NotFound): // it cannot be looked at here
		shot.Unreadable = true
	case err != nil:
		return err
	}
	shot.Numbers = append(codes.Numbers, codes.Strange...)
	shot.Unreadable = shot.Unreadable || codes.Unreadable
	w.mu.Lock()
	defer w.mu.Unlock()
	w.shots[i] = &shot
	for _, n := range codes.Numbers {
		w.known[n] = true
	}
	w.s.progress.step()
	return nil
}

func (w *walked) refuse(file string, err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.refused = append(w.refused, refusedFile{file, problemOf(err)})
	w.s.progress.step()
	if w.first == nil {
		w.first = err
	}
}

// taken gives the shots, each original once, and the name of the file of each.
func (w *walked) taken(files []string, out *imported) (shots []wire.Shot, names map[string]string) {
	names = map[string]string{}
	for i, s := range w.shots {
		if s == nil {
			continue
		}
		if _, twice := names[s.SHA256]; twice {
			out.Twice = append(out.Twice, files[i])
			continue
		}
		names[s.SHA256] = files[i]
		shots = append(shots, *s)
	}
	slices.SortFunc(w.refused, func(a, b refusedFile) int { return strings.Compare(a.File, b.File) })
	out.Photos, out.Refused = len(shots), append(out.Refused, w.refused...)
	return shots, names
}

// mostOfGroup is how many photos are filed in one act; a tool holds no more.
const mostOfGroup = 200

// fileGroup files what belongs to one label, as one act.
func (s *session) fileGroup(ctx context.Context, o importPhotosOptions, g wire.ShotGroup, names map[string]string, out *imported) error {
	in := wire.Photos{Number: g.Number}
	if g.Number != "" {
		in.Owner, in.Place = o.owner, o.place
	}
	for i, shot := range g.Shots {
		in.Photos = append(in.Photos, wire.Attach{Kind: string(g.Kinds[i]), SHA256: shot.SHA256, Name: filepath.Base(shot.Name)})
	}
	for part := range slices.Chunk(in.Photos, mostOfGroup) {
		in.Photos = part
		filed, err := s.client.FilePhotos(ctx, in)
		if err != nil {
			return aboutFile(names[part[0].SHA256], err)
		}
		out.add(g, filed, names)
	}
	return nil
}

// add notes what became of a group.
func (out *imported) add(g wire.ShotGroup, filed wire.PhotosFiled, names map[string]string) {
	tool := importedTool{Number: text(filed.Number), Started: filed.Started}
	for _, p := range filed.Photos {
		switch {
		case g.Number == "":
			out.Unsorted = append(out.Unsorted, importedShot{p.ID, names[p.SHA256], g.Why, p.Already})
		case p.Already:
			tool.Already++
		default:
			tool.Filed++
		}
	}
	if g.Number == "" {
		return
	}
	out.Tools = append(out.Tools, tool)
	if filed.Question != "" {
		out.Question = append(out.Question, questionOfShot{tool.Number, filed.Question})
	}
}

// sayImported says what became of the folder; a refused photo fails the command.
func (s *session) sayImported(out imported, refused error) error {
	if s.json {
		if err := s.object(out); err != nil {
			return err
		}
		return importRefused(out, refused)
	}
	for _, t := range out.Tools {
		did := "photos added"
		switch {
		case t.Started:
			did = "started"
		case t.Filed == 0:
			did = "unchanged"
		}
		if err := s.changed(fmt.Sprintf("%s %s: %d photos", t.Number, did, t.Filed+t.Already), t.Number, did, fmt.Sprint(t.Filed), fmt.Sprint(t.Already)); err != nil {
			return err
		}
	}
	for _, u := range out.Unsorted {
		if err := s.changed(u.File+" is unsorted, as "+u.ID+": "+u.Why, u.ID, "unsorted", u.File, u.Why); err != nil {
			return err
		}
	}
	for _, q := range out.Question {
		s.note(q.Number + ": " + q.Question)
	}
	if len(out.LeftOut) > 0 {
		s.note(fmt.Sprintf("left out, being no photos: %s", strings.Join(out.LeftOut, ", ")))
	}
	if len(out.Unsorted) > 0 {
		s.note(`next: file what is unsorted, one by one: pawl evidence file ID NUMBER --kind plate`)
	}
	if len(out.Tools) > 0 {
		s.note("next: type what was photographed, dearest first: pawl find --unfinished")
	}
	return importRefused(out, refused)
}

func importRefused(out imported, refused error) error {
	if refused == nil {
		return nil
	}
	f := *fault.Of(refused)
	f.Message = fmt.Sprintf("%d of %d photos were refused; the first, %s: %s", len(out.Refused), len(out.Refused)+out.Photos+len(out.Twice), out.Refused[0].File, out.Refused[0].Problem.Message)
	return &f
}
