// Package page is what people see: pages for a phone first, made by the program
// from the same use-cases as the REST service, that work without a script. A
// handler gets an Ask and gives a Reply: a page to show, a place to go, or a
// fault. All text comes from the one catalog in words; all forms are made of the
// parts in templates/formparts.html, which the page /parts shows.
package page

import (
	"embed"
	"html/template"
	"io"
	"net/http"
	"sync"

	"pawl/api/page/words"
	"pawl/model"
)

//go:embed templates
var templateFiles embed.FS

// Options is what the outside world gives the pages.
type Options struct {
	Chance io.Reader // one-use keys of forms; nil is a mistake
	Door   Door      // how browsers come in; nil is a mistake
}

// Pages answers people.
type Pages struct {
	shop   *model.Shop
	door   Door
	chance io.Reader
	sheets waitingSheets
}

// Route is one page: a method and a path as the router has it, and what answers.
type Route struct {
	Method, Path string
	answer       func(*Ask) (Reply, error)

	// refused, where set, shows the page of an act again that was refused for the
	// badge that came with it, or for want of one.
	refused func(*Ask) (Reply, error)
}

// New gives the pages of a shop.
func New(shop *model.Shop, o Options) *Pages {
	return &Pages{shop: shop, door: o.Door, chance: o.Chance}
}

// sets are the templates by language. They and the static files are read once a
// process, at the first page: a command that shows none does not wait for them. A
// broken one is a broken build.
var sets = sync.OnceValue(func() map[words.Language]*template.Template {
	out := map[words.Language]*template.Template{}
	for _, lang := range words.Languages() {
		out[lang] = templates(lang)
	}
	return out
})

// Routes lists every page.
func (p *Pages) Routes() []Route {
	var all []Route
	for _, area := range [][]Route{
		p.staticRoutes(), p.enterRoutes(), p.todayRoutes(), p.scanRoutes(), p.boardRoutes(), p.findRoutes(), p.toolRoutes(), p.custodyRoutes(),
		p.addRoutes(), p.labelRoutes(), p.peopleRoutes(), p.importRoutes(), p.settingRoutes(), p.dueRoutes(), p.partsRoutes(),
		p.readyRoutes(), p.useRoutes(), p.compareRoutes(), p.adviceRoutes(), p.markingRoutes(), p.recheckRoutes(), p.placeRoutes(), p.jobRoutes(), p.countRoutes(), p.worthRoutes(), p.worthEntryRoutes(), p.worthBasisRoutes(), p.lossRoutes(), p.claimRoutes(), p.packetRoutes(),
	} {
		all = append(all, area...)
	}
	return all
}

func get(path string, answer func(*Ask) (Reply, error)) Route {
	return Route{Method: http.MethodGet, Path: path, answer: answer}
}

func post(path string, answer func(*Ask) (Reply, error)) Route {
	return Route{Method: http.MethodPost, Path: path, answer: answer}
}
