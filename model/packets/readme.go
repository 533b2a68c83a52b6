package packets

import (
	"html/template"
	"io"
	"strings"

	"pawl/model/claims"
	"pawl/model/proofs"
)

// plainReadMe is a page that opens everywhere, without script and network.
var plainReadMe = template.Must(template.New("readme").Funcs(template.FuncMap{
	"near":  func(path string) string { return strings.TrimPrefix(path, "data/") },
	"words": func() string { return proofs.Words },
}).Parse(`<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>Read me first: {{.Shop}}</title>
<style>body{font:1rem/1.5 sans-serif;max-width:60rem;margin:2rem auto;padding:0 1rem}dt{font-weight:bold}li{margin:.3rem 0}</style></head>
<body><h1>Photos, papers and proofs</h1>
<p>Prepared by {{.Shop}}.{{if .Packet}} Packet {{.Packet}}.{{end}} Not legal, tax or insurance advice; the policy's wording decides.</p>
{{if .Loss}}<p>Loss {{.Loss.ID}}: {{.Loss.Kind}}, found {{.Loss.Found}}, {{.Loss.Spot}}.{{if .Loss.Report}} Police: {{.Loss.Agency}}, {{.Loss.Report}}.{{end}}</p>{{end}}
{{if .Files}}<h2>Of the loss as a whole</h2><ul>{{range .Files}}{{template "file" .}}{{end}}</ul>{{end}}
{{range .Lines}}<h2>{{.Line}}. {{.Maker}} {{.Model}} {{.Kind}}</h2>
<p>Owner {{.Owner}}. {{if .Serial}}Serial number {{.Serial}} ({{.SerialSaid}}){{else}}Serial number: {{.SerialSaid}}{{end}}{{if .OwnersNo}}; owner's number {{.OwnersNo}}, {{.OwnersNoAt}}{{end}}.
Number of its label, which peels off: {{.Number}}.{{if .AfterLoss}} Recorded after the loss.{{end}}{{if .Recovered}} Recovered {{.Recovered}}.{{end}}</p>
{{if .Files}}<ul>{{range .Files}}{{template "file" .}}{{end}}</ul>{{else}}<p>No photo or paper.</p>{{end}}
{{range .Extra}}<p>{{.}}</p>{{end}}{{end}}
<h2>What the proofs show</h2><p>{{words}}</p><p>How to check: <a href="../proof/HOW-TO-CHECK.txt">proof/HOW-TO-CHECK.txt</a></p>
</body></html>
{{define "file"}}<li>{{.Ref}}, {{.Kind}}: {{if .Path}}<a href="{{near .Path}}">{{near .Path}}</a>{{else}}not in here: {{.Left}}{{end}}. Received {{.Received}}.{{if .Copy}} A copy without the place where it was taken; the original is with the owner.{{end}}{{if .WhyNot}} {{.WhyNot}}{{end}} SHA-256 of the original {{.SHA256}}</li>{{end}}`))

// ReadMe writes the page that is opened first.
func ReadMe(w io.Writer, s claims.Statement) error { return plainReadMe.Execute(w, s) }
