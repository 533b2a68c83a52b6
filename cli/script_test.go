package cli

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"hash/fnv"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"github.com/rogpeppe/go-internal/testscript"
	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"pawl": func() {
			args, err := onPostgres(os.Args)
			if err != nil {
				fmt.Fprintln(os.Stderr, err)
				os.Exit(99)
			}
			os.Exit(Run(args, os.Stdin, os.Stdout, os.Stderr))
		},
	})
}

// TestScripts runs the command as people and scripts do. Each script has a shop
// of its own in $PAWL_DATA. Besides what testscript knows, they may say:
//
//	get NAME PATH…     keep a value of the JSON last printed: get N number
//	is PATH VALUE      the JSON last printed holds that: is custody.state out
//	mkphoto FILE [TEXT]  make a photo, JPEG or PNG by its name
//	mkwalk FOLDER WORD…  photograph labels, by their PNG, and other things
//	mkpaper FILE [TEXT]  make a PDF
//	freeport NAME      find a free port on this computer
//	today NAME         keep the day, in UTC, and in $NOW the time
//	await URL          until it answers
//	mode FILE OCTAL    the file has these permissions
//	exits CODE COMMAND…  the command ends with that code
//	terminate          send SIGTERM to the command started last with &
//	spoil FOLDER SHA   change the original of that SHA-256
//	enter LINK NAME JSON  take a link as a browser does; NAME keeps the cookie
//	cookie NAME METHOD URL  ask with it, and print the answer
//	bucket NAME        start a server with that bucket, and say so in the environment
//	database NAME      keep the URL of an empty schema; on PostgreSQL only
//	interrupt LINE COMMAND…  give it a line, wait for one back, press Ctrl-C: 130
func TestScripts(t *testing.T) { testscript.Run(t, scripts()) }

func scripts() testscript.Params {
	return testscript.Params{
		Dir:                 filepath.Join("..", "testdata", "script"),
		RequireExplicitExec: false,
		RequireUniqueNames:  true,
		Condition:           onEngine("sqlite"),
		Setup: func(env *testscript.Env) error {
			env.Setenv("PAWL_DATA", filepath.Join(env.WorkDir, "shop"))
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"get": getValue, "is": isValue, "mkphoto": makePhoto, "mkwalk": makeWalk, "mkpaper": makePaper,
			"freeport": freePort, "today": today, "await": await, "mode": hasMode, "exits": exits, "interrupt": interrupt, "terminate": terminate, "spoil": spoil,
			"enter": enter, "cookie": withCookie, "bucket": startBucket, "database": makeDatabase,
		},
	}
}

// onEngine lets a script say what holds on one engine only: [postgres] or [sqlite].
func onEngine(engine string) func(string) (bool, error) {
	return func(cond string) (bool, error) {
		if cond != "postgres" && cond != "sqlite" {
			return false, fmt.Errorf("no condition is named %q", cond)
		}
		return cond == engine, nil
	}
}

func onlyPlain(ts *testscript.TestScript, neg bool, args []string, least, most int) {
	if neg || len(args) < least || len(args) > most {
		ts.Fatalf("wrong use: see TestScripts")
	}
}

// at finds a.b.0.c in the JSON that the last command printed.
func at(ts *testscript.TestScript, path string) any {
	var v any
	from := ts.ReadFile("stdout")
	if from == "" {
		from = ts.ReadFile("stderr")
	}
	if err := json.Unmarshal([]byte(from), &v); err != nil {
		ts.Fatalf("what was printed is not one JSON value: %v", err)
	}
	for _, step := range strings.Split(path, ".") {
		switch node := v.(type) {
		case map[string]any:
			next, ok := node[step]
			if !ok {
				ts.Fatalf("no member %q on the way to %s", step, path)
			}
			v = next
		case []any:
			i, err := strconv.Atoi(step)
			if err != nil || i >= len(node) {
				ts.Fatalf("no element %s of %d on the way to %s", step, len(node), path)
			}
			v = node[i]
		default:
			ts.Fatalf("%q leads into %v", path, v)
		}
	}
	return v
}

func shown(v any) string {
	switch v := v.(type) {
	case string:
		return v
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	b, _ := json.Marshal(v)
	return string(b)
}

func getValue(ts *testscript.TestScript, neg bool, args []string) {
	onlyPlain(ts, neg, args, 2, 2)
	ts.Setenv(args[0], shown(at(ts, args[1])))
}

func isValue(ts *testscript.TestScript, neg bool, args []string) {
	onlyPlain(ts, false, args, 2, 2)
	got := shown(at(ts, args[0]))
	if (got == args[1]) == neg {
		ts.Fatalf("%s is %q, and %q was said (not: %v)", args[0], got, args[1], neg)
	}
}

func exits(ts *testscript.TestScript, neg bool, args []string) {
	onlyPlain(ts, neg, args, 2, 100)
	code := 0
	var ended *exec.ExitError
	if err := ts.Exec(args[1], args[2:]...); errors.As(err, &ended) {
		code = ended.ExitCode()
	} else {
		ts.Check(err)
	}
	if got := strconv.Itoa(code); got != args[0] {
		ts.Fatalf("exit code %s, want %s", got, args[0])
	}
}

func interrupt(ts *testscript.TestScript, neg bool, args []string) {
	onlyPlain(ts, neg, args, 2, 100)
	command := exec.Command(filepath.Join(strings.Split(ts.Getenv("PATH"), string(os.PathListSeparator))[0], args[1]), args[2:]...)
	for _, name := range []string{"PAWL_DATA", scriptBase, scriptLaid, scriptMade} {
		command.Env = append(command.Env, name+"="+ts.Getenv(name))
	}
	command.Dir = ts.MkAbs(".")
	stdin, err := command.StdinPipe()
	ts.Check(err)
	defer stdin.Close()
	stdout, err := command.StdoutPipe()
	ts.Check(err)
	ts.Check(command.Start())
	_, err = stdin.Write([]byte(args[0] + "\n"))
	ts.Check(err)
	result, err := bufio.NewReader(stdout).ReadString('\n')
	ts.Check(err)
	ts.Logf("%s", result)
	ts.Check(command.Process.Signal(os.Interrupt))
	_ = command.Wait()
	if code := command.ProcessState.ExitCode(); code != exitInterrupted {
		ts.Fatalf("exit code %d, want %d", code, exitInterrupted)
	}
}

func terminate(ts *testscript.TestScript, neg bool, args []string) {
	onlyPlain(ts, neg, args, 0, 0)
	running := ts.BackgroundCmds()
	ts.Check(running[len(running)-1].Process.Signal(syscall.SIGTERM))
}

func spoil(ts *testscript.TestScript, neg bool, args []string) {
	onlyPlain(ts, neg, args, 2, 2)
	name := filepath.Join(ts.MkAbs(args[0]), args[1][:2], args[1][2:])
	text, err := os.ReadFile(name)
	ts.Check(err)
	text[len(text)/2] ^= 1
	ts.Check(os.Chmod(name, 0o600))
	ts.Check(os.WriteFile(name, text, 0o600))
}

// makePhoto draws a flat gray plate with the text, told apart by it.
func makePhoto(ts *testscript.TestScript, neg bool, args []string) {
	onlyPlain(ts, neg, args, 1, 2)
	name := args[0]
	text := strings.Join(args, " ")
	picture := image.NewRGBA(image.Rect(0, 0, 640, 480))
	hash := fnv.New32a()
	hash.Write([]byte(text))
	gray := color.Gray{Y: uint8(128 + hash.Sum32()%100)}
	draw.Draw(picture, picture.Bounds(), image.NewUniform(gray), image.Point{}, draw.Src)
	pen := font.Drawer{Dst: picture, Src: image.Black, Face: basicfont.Face7x13, Dot: fixed.P(40, 240)}
	pen.DrawString(text)
	f, err := os.Create(ts.MkAbs(name))
	ts.Check(err)
	defer f.Close()
	if strings.HasSuffix(name, ".png") {
		ts.Check(png.Encode(f, picture))
		return
	}
	ts.Check(jpeg.Encode(f, picture, nil))
}

func makePaper(ts *testscript.TestScript, neg bool, args []string) {
	onlyPlain(ts, neg, args, 1, 2)
	paper := fpdf.New("P", "mm", "Letter", "")
	day := time.Date(2026, 10, 2, 12, 0, 0, 0, time.UTC)
	paper.SetCreationDate(day)
	paper.SetModificationDate(day)
	paper.AddPage()
	paper.SetFont("Helvetica", "", 14)
	paper.Cell(40, 10, strings.Join(args, " "))
	ts.Check(paper.OutputFileAndClose(ts.MkAbs(args[0])))
}

func freePort(ts *testscript.TestScript, neg bool, args []string) {
	onlyPlain(ts, neg, args, 1, 1)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	ts.Check(err)
	defer l.Close()
	ts.Setenv(args[0], strconv.Itoa(l.Addr().(*net.TCPAddr).Port))
}

func today(ts *testscript.TestScript, neg bool, args []string) {
	onlyPlain(ts, neg, args, 1, 1)
	now := time.Now().UTC()
	ts.Setenv(args[0], now.Format(time.DateOnly))
	ts.Setenv("NOW", now.Format(time.RFC3339))
}

// await asks again until there is an answer, for at most 30 s.
func await(ts *testscript.TestScript, neg bool, args []string) {
	onlyPlain(ts, neg, args, 1, 1)
	again := time.NewTicker(20 * time.Millisecond)
	defer again.Stop()
	for range 1500 {
		if answer, err := http.Get(args[0]); err == nil {
			answer.Body.Close()
			return
		}
		<-again.C
	}
	ts.Fatalf("%s does not answer", args[0])
}

func hasMode(ts *testscript.TestScript, neg bool, args []string) {
	onlyPlain(ts, neg, args, 2, 2)
	info, err := os.Stat(ts.MkAbs(args[0]))
	ts.Check(err)
	if got := fmt.Sprintf("%04o", info.Mode().Perm()); got != args[1] {
		ts.Fatalf("%s has mode %s, want %s", args[0], got, args[1])
	}
}
