package browser

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// judged are the programs outside the tree that judge pages, and what they have been
// given.
type judged struct {
	axe      string // script; empty: not here
	validate string // program; empty: not here
	dir      string
	paths    map[string]string // by file
}

// judges finds pinned packages of npm in the folder that PAWL_NODE_MODULES names. One
// that is not there is left out with a word here, and fails where CI is set.
func judges(t *testing.T) *judged {
	t.Helper()
	j := &judged{dir: t.TempDir(), paths: map[string]string{}}
	if path := nodeModule(t, "axe-core/axe.min.js"); path != "" {
		raw, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		j.axe = string(raw)
	}
	j.validate = nodeModule(t, "html-validate/bin/html-validate.mjs")
	return j
}

// comesAlong has every page of a tab bring axe-core with it, which does nothing until it is
// called. The browser keeps what it made of the script; handed to each page anew, it is sent
// and read each time.
func (j *judged) comesAlong(p *tab) {
	p.Helper()
	if j.axe == "" {
		return
	}
	_, err := chromedp.Call(p.ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: "window.pawlJudge = function () {" + j.axe + "\n};"})
	p.do(err)
}

func nodeModule(t *testing.T, name string) (path string) {
	t.Helper()
	path = filepath.Join(os.Getenv("PAWL_NODE_MODULES"), filepath.FromSlash(name))
	if _, err := os.Stat(path); err == nil && os.Getenv("PAWL_NODE_MODULES") != "" {
		return path
	}
	if os.Getenv("CI") != "" {
		t.Fatalf("PAWL_NODE_MODULES names no folder with %s", name)
	}
	t.Run(filepath.Base(name), func(t *testing.T) {
		t.Skipf("PAWL_NODE_MODULES names no folder with %s: this check is left out", name)
	})
	return ""
}

type violation struct {
	ID, Help string
	Nodes    []string
}

// runAxe gives what breaks a rule, or a rule about colors alone, and what axe could not
// decide about contrast. In a chart it can decide nothing, since it takes the drawing
// itself for an image behind the letters; they have the ink of the page, on its paper.
const runAxe = `async (colors) => {
	const only = colors ? { type: "rule", values: ["color-contrast", "link-in-text-block"] } : { type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] };
	const r = await axe.run(document, { runOnly: only, ...(colors ? {} : { rules: { "target-size": { enabled: true } } }), resultTypes: ["violations", "incomplete"] });
	const inChart = (n) => document.querySelector(n.target.at(-1))?.closest("svg[role=img]");
	const undecided = r.incomplete.filter((v) => v.id === "color-contrast").map((v) => ({ ...v, nodes: v.nodes.filter((n) => !inChart(n)) })).filter((v) => v.nodes.length > 0);
	return [...r.violations, ...undecided].map((v) => ({ ID: v.id, Help: v.help, Nodes: v.nodes.slice(0, 4).map((n) => n.html.slice(0, 160) + " " + n.failureSummary.replace(/\s+/g, " ").slice(0, 300)) }));
}`

// keep puts a page aside, as it came from the shop, until all are validated at once.
func (j *judged) keep(t *testing.T, path string, raw []byte) {
	t.Helper()
	file := filepath.Join(j.dir, fmt.Sprintf("%03d.html", len(j.paths)))
	j.paths[file] = path
	if err := os.WriteFile(file, raw, 0o600); err != nil {
		t.Fatal(err)
	}
}

// valid has html-validate read what was kept.
func (j *judged) valid(t *testing.T) {
	t.Helper()
	if j.validate == "" {
		return
	}
	node, err := exec.LookPath("node")
	if err != nil {
		t.Fatal("html-validate is there, node is not")
	}
	config, err := filepath.Abs("testdata/htmlvalidate.json")
	if err != nil {
		t.Fatal(err)
	}
	said := filepath.Join(t.TempDir(), "said.json")
	told, err := exec.Command(node, j.validate, "--formatter", "json="+said, "--config", config, j.dir).CombinedOutput()
	out, unread := os.ReadFile(said)
	if unread != nil {
		t.Fatalf("html-validate says nothing: %v %s", err, told)
	}
	var report []struct {
		FilePath string
		Messages []struct {
			RuleID, Message string
			Line, Column    int
		}
	}
	if err := json.Unmarshal(out, &report); err != nil {
		t.Fatalf("html-validate answers %q: %v", out, err)
	}
	if len(j.paths) == 0 {
		t.Fatal("no page was looked at")
	}
	for _, file := range report {
		for _, m := range file.Messages {
			t.Errorf("%s line %d column %d: %s (%s)", j.paths[file.FilePath], m.Line, m.Column, m.Message, m.RuleID)
		}
	}
}
