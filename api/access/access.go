// Package access says which role may use which route. The matrix is the file
// matrix.txt: a route is a method and a path as the router has it, and a role is
// manager, technician, viewer or device, a shop's; "device+badge" is a shop's
// device at which somebody shows their badge, and "anyone" stands for those who
// have not said who they are. What is not in the matrix is refused. The rules on
// single tools and fields come after it, in people.May.
package access

import (
	_ "embed"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"

	"pawl/model/people"
)

//go:embed matrix.txt
var matrixText string

// matrix is read when somebody first asks; a broken one is a broken build.
var matrix = sync.OnceValue(func() map[Route]row {
	m, err := parse(matrixText)
	if err != nil {
		panic("access: " + err.Error())
	}
	return m
})

// Route is a method and a path as the router has it, such as
// "/api/v1/tools/:number".
type Route struct{ Method, Path string }

type row struct {
	roles  []people.Role
	badged bool // people.ShopDevice stands for one with a badge alone
	anyone bool
}

// Allowed says whether the actor may use the route. HEAD is asked as GET. A route
// that is not in the matrix is refused to everybody.
func Allowed(method, path string, a people.Actor) bool {
	r, known := find(method, path)
	if !known || r.badged && a.Role == people.ShopDevice && !a.Badged() {
		return false
	}
	return r.anyone || slices.Contains(r.roles, a.Role)
}

// AllowedWithBadge says whether a shop device may use the route for whoever shows
// their badge there.
func AllowedWithBadge(method, path string) bool {
	r, known := find(method, path)
	return known && slices.Contains(r.roles, people.ShopDevice)
}

// Anyone says whether the route is open to those who have not said who they are.
func Anyone(method, path string) bool {
	r, known := find(method, path)
	return known && r.anyone
}

func find(method, path string) (row, bool) {
	if method == http.MethodHead {
		method = http.MethodGet
	}
	r, known := matrix()[Route{method, path}]
	return r, known
}

// Routes lists every route of the matrix, sorted by path and method.
func Routes() []Route {
	var all []Route
	for r := range matrix() {
		all = append(all, r)
	}
	slices.SortFunc(all, func(a, b Route) int {
		return strings.Compare(a.Path+" "+a.Method, b.Path+" "+b.Method)
	})
	return all
}

const (
	anyone      = "anyone"
	device      = "device"
	badgeDevice = "device+badge"
)

var (
	roles = map[string]people.Role{string(people.Manager): people.Manager, string(people.Technician): people.Technician,
		string(people.Viewer): people.Viewer, device: people.ShopDevice, badgeDevice: people.ShopDevice}
	methods = []string{http.MethodGet, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete}
)

// parse reads a matrix and refuses a line that it does not understand whole.
func parse(text string) (map[Route]row, error) {
	m := map[Route]row{}
	for i, line := range strings.Split(text, "\n") {
		line, _, _ = strings.Cut(line, "#")
		fields := strings.Fields(line)
		if len(fields) == 0 {
			continue
		}
		route, r, err := parseLine(fields)
		if err != nil {
			return nil, fmt.Errorf("matrix line %d: %w", i+1, err)
		}
		if _, twice := m[route]; twice {
			return nil, fmt.Errorf("matrix line %d: %s %s stands there twice", i+1, route.Method, route.Path)
		}
		m[route] = r
	}
	return m, nil
}

func parseLine(fields []string) (Route, row, error) {
	if len(fields) < 3 {
		return Route{}, row{}, fmt.Errorf("%q is not a method, a path and who", strings.Join(fields, " "))
	}
	route := Route{fields[0], fields[1]}
	if !slices.Contains(methods, route.Method) {
		return Route{}, row{}, fmt.Errorf("%q is not one of the methods %s", route.Method, strings.Join(methods, " "))
	}
	if !strings.HasPrefix(route.Path, "/") {
		return Route{}, row{}, fmt.Errorf("path %q does not start with /", route.Path)
	}
	if len(fields) == 3 && fields[2] == anyone {
		return route, row{anyone: true}, nil
	}
	var r row
	for _, name := range fields[2:] {
		role, known := roles[name]
		if !known || slices.Contains(r.roles, role) {
			return Route{}, row{}, fmt.Errorf("%q is not a role of its own, and anyone stands alone", name)
		}
		r.roles, r.badged = append(r.roles, role), r.badged || name == badgeDevice
	}
	return route, r, nil
}
