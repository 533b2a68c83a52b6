package page

import (
	"mime/multipart"
	"net/url"
	"strings"

	"pawl/model"
	"pawl/model/fault"
	"pawl/model/numbers"
	"pawl/model/people"
)

func (p *Pages) scanRoutes() []Route {
	return []Route{
		get("/scan", p.scanPage),
		post("/scan", p.scanPhoto),
		post("/scan/job", p.scanJob),
	}
}

// scanned is what the Scan page shows besides its ways to read a label.
type scanned struct {
	Numbers []numbers.Number // of several labels in one photo, or of one that is asked about
	Strange []numbers.Number // labels in a photo that this shop did not give out
	Foreign string           // host on a label that is not this shop's
	Job     string           // that was scanned: the next tools may be taken for it
}

// scanPage takes a code that was read by the page's camera, by a scanner that
// types, or typed by hand, and leads to what it stands for. It changes nothing.
func (p *Pages) scanPage(a *Ask) (Reply, error) {
	code := a.Query("code")
	if code == "" {
		return Show("scan", scanned{}), nil
	}
	to, v, err := p.whereTo(a, code)
	switch {
	case err != nil:
		r := Show("scan", v)
		r.form, r.err = formOf(a.R.URL.Query(), fault.At("#/code", "%s", fault.Of(err).Message)), err
		return r, nil
	case to == "":
		return Show("scan", v), nil
	}
	return Go(to), nil
}

// whereTo is the page of what a code stands for, or what is to be asked first.
func (p *Pages) whereTo(a *Ask, code string) (to string, v scanned, err error) {
	sym, err := numbers.ParseSymbol(code)
	if err != nil {
		if a.Query("by") == "camera" || strings.ContainsAny(code, "/:") {
			return "", v, err
		}
		n, err := numbers.ParseNumber(code)
		return toolPath(n), v, err
	}
	board := a.Me().Role == people.ShopDevice
	switch {
	case sym.Kind == numbers.Tool:
		if v.Foreign = p.foreignHost(a, code); v.Foreign != "" {
			v.Numbers = []numbers.Number{sym.Number()}
			return "", v, nil
		}
		return toolPath(sym.Number()), v, nil
	case sym.Kind == numbers.Job && !board:
		v.Job = sym.Code
		return "", v, nil
	case sym.Kind == numbers.Place && !board:
		_, err := p.shop.PlaceOfCode(a.R.Context(), a.By, sym.Code)
		return placePath(sym.Code), v, err
	case board:
		return "", v, fault.New(fault.Invalid, "that is the code of a %s: scan the label of a tool here", sym.Kind)
	}
	return "", v, fault.New(fault.Invalid, "that is the code of a %s: this page takes the labels of tools, places and jobs", sym.Kind)
}

// foreignHost is the host on a label where it is neither the shop's address nor
// the one that the page was asked at. Every shop counts its numbers from one, so
// such a label may be of another's tool.
func (p *Pages) foreignHost(a *Ask, code string) string {
	link, err := url.Parse(strings.TrimSpace(code))
	if err != nil || link.Host == "" {
		return ""
	}
	ours := []string{a.R.Host}
	if set, err := p.shop.Settings(a.R.Context()); err == nil {
		if own, err := url.Parse(set.Address); err == nil {
			ours = append(ours, own.Host)
		}
	}
	for _, host := range ours {
		if strings.EqualFold(host, link.Host) {
			return ""
		}
	}
	return strings.ToLower(link.Host)
}

// scanJob keeps on this phone the job that the next tools are taken for.
func (p *Pages) scanJob(a *Ask) (Reply, error) {
	a.rememberJob(a.Value("job"))
	return Go("/scan", p.say(a, "scan.job-kept", a.Value("job"))), nil
}

// scanPhoto reads the labels in a photo, for a browser whose camera the page
// cannot use.
func (p *Pages) scanPhoto(a *Ask) (Reply, error) {
	if !a.HasFile("label") {
		return a.Again("scan", scanned{}, fault.At("#/label", "choose or take a photo of the label")), nil
	}
	var v scanned
	for _, photo := range a.files["label"] {
		codes, err := p.codesIn(a, photo)
		if fault.Is(err, fault.NotFound) { // no picture that can be drawn: no label in it either
			continue
		}
		if err != nil {
			return a.Again("scan", v, at("label", err)), nil
		}
		v.Numbers, v.Strange = append(v.Numbers, codes.Numbers...), append(v.Strange, codes.Strange...)
	}
	switch len(v.Numbers) {
	case 0:
		return a.Again("scan", v, fault.At("#/label", "%s", p.say(a, "scan.unread"))), nil
	case 1:
		return Go(toolPath(v.Numbers[0])), nil
	}
	return Show("scan", v), nil
}

// codesIn reads a photo that is kept nowhere.
func (p *Pages) codesIn(a *Ask, photo *multipart.FileHeader) (model.CodesView, error) {
	if photo.Size == 0 { // an untouched picker sends an empty file
		return model.CodesView{}, nil
	}
	f, err := photo.Open()
	if err != nil {
		return model.CodesView{}, err
	}
	defer f.Close()
	return p.shop.CodesIn(a.R.Context(), a.By, f, photo.Size)
}
