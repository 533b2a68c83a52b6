package page

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/custody"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/people"
)

func (p *Pages) peopleRoutes() []Route {
	return append(p.meRoutes(),
		get("/people", p.peoplePage),
		post("/people", p.addPerson),
		get("/people/:id", p.personPage),
		post("/people/:id", p.changePerson),
		get("/people/:id/enroll", func(a *Ask) (Reply, error) { return Go(personPath(a.Param("id"))), nil }),
		post("/people/:id/enroll", p.enrollPerson),
		get("/people/:id/leave", p.leavePage),
		post("/people/:id/leave", p.leave),
		get("/devices", p.devicesPage),
		get("/devices/add", p.devicesAdd),
		post("/devices/add", p.enrollDevice),
		post("/devices/:id/revoke", p.revokeDevice),
	)
}

func personPath(id string) string { return "/people/" + url.PathEscape(id) }

// leads says whether somebody may set the shop up.
func (a *Ask) leads() bool { return people.May(a.Me(), people.ShopActs, people.Object{}) }

// roles are the roles that a person can have, with what each may do.
func (p *Pages) roles(lang words.Language, chosen people.Role) []Option {
	out := p.Options(lang, "role.", string(people.Manager), string(people.Technician), string(people.Viewer))
	for i := range out {
		out[i].Hint = words.Say(lang, "role-hint."+out[i].Value)
		out[i].Chosen = out[i].Value == string(chosen)
	}
	return out
}

// crew is what the page of everybody shows.
type crew struct {
	People []people.Person
	Leads  bool
	Roles  []Option
}

func (p *Pages) crew(a *Ask) (crew, error) {
	all, err := p.shop.People(a.R.Context(), a.By)
	return crew{all, a.leads(), p.roles(a.language(), people.Technician)}, err
}

func (p *Pages) peoplePage(a *Ask) (Reply, error) {
	v, err := p.crew(a)
	return Show("people", v), err
}

func (p *Pages) addPerson(a *Ask) (Reply, error) {
	added, err := p.shop.AddPerson(a.R.Context(), a.By, model.NewPerson{Name: a.Value("name"), Role: a.Value("role")})
	if err != nil {
		v, failed := p.crew(a)
		if failed != nil {
			return Reply{}, failed
		}
		return a.Again("people", v, err), nil
	}
	return Go(personPath(added.ID), p.say(a, "people.added", added.Name)), nil
}

// one is what the page of one person shows.
type one struct {
	people.Person
	Roles   []Option
	Devices []model.DeviceView
	Mine    string // the device that asks
	Enrolls bool   // the asker may let a phone in
}

func (p *Pages) person(a *Ask) (v one, err error) {
	ctx := a.R.Context()
	if v.Person, err = p.shop.Person(ctx, a.By, a.Param("id")); err != nil {
		return v, err
	}
	v.Roles, v.Mine = p.roles(a.language(), v.Role), a.Me().Device
	all, err := p.shop.Devices(ctx, a.By)
	v.Devices = devicesOf(all, v.ID)
	v.Enrolls = len(v.Devices) == 0 || a.Me().Person == v.ID || a.Me().AtComputer()
	return v, err
}

// devicesOf are the devices of a person that open something now.
func devicesOf(all []model.DeviceView, id string) (out []model.DeviceView) {
	for _, d := range all {
		if d.InForce && d.Person != "" && d.Person == id {
			out = append(out, d)
		}
	}
	return out
}

func (p *Pages) personPage(a *Ask) (Reply, error) {
	v, err := p.person(a)
	return Show("peopleone", v).WithForm(url.Values{"name": {v.Name}, "role": {string(v.Role)}, "rev": {strconv.FormatInt(v.Rev, 10)}}), err
}

func (p *Pages) changePerson(a *Ask) (Reply, error) {
	name, role := a.Value("name"), a.Value("role")
	changed, err := p.shop.ChangePerson(a.R.Context(), a.By, a.Param("id"), a.rev(), model.PersonChange{Name: &name, Role: &role})
	if err != nil {
		return p.personAgain(a, err)
	}
	to := personPath(changed.ID)
	if changed.ID == a.Me().Person && changed.Role != people.Manager { // that page is a manager's
		to = home(changed.Role)
	}
	return Go(to, p.say(a, "people.kept", changed.Name)), nil
}

func (p *Pages) personAgain(a *Ask, err error) (Reply, error) {
	v, failed := p.person(a)
	if failed != nil {
		return Reply{}, failed
	}
	is := url.Values{"name": {v.Name}, "role": {string(v.Role)}}
	if fault.Is(err, fault.Stale) {
		err = p.overtaken(a, is, v.Rev, p.say(a, "settings.stale"))
	}
	r := a.Again("peopleone", v, err)
	if !a.Has("name") { // another form of the page was sent
		is.Set("rev", strconv.FormatInt(v.Rev, 10))
		r = r.WithForm(is)
	}
	return r, nil
}

// enrollPerson shows a link by which one phone of a person is let in.
func (p *Pages) enrollPerson(a *Ask) (Reply, error) {
	who, err := p.shop.Person(a.R.Context(), a.By, a.Param("id"))
	if err != nil {
		return Reply{}, err
	}
	e, err := p.shop.Enroll(a.R.Context(), a.By, who.Name)
	if err != nil {
		return p.personAgain(a, err)
	}
	return p.invite(a, e, personPath(who.ID))
}

// leaving is what the page of a leave shows.
type leaving struct {
	people.Person
	Settle []settling      // what is open with them
	Takes  []model.ToolRow // own tools that go with them
	Copy   bool            // the asker may take their copy
}

// settling is a tool that is in the wrong hands when somebody leaves.
type settling struct {
	model.ToolRow
	What string
}

// leaving lists what is to settle. The Shop decides when it is asked to.
func (p *Pages) leaving(a *Ask) (v leaving, err error) {
	ctx := a.R.Context()
	if v.Person, err = p.shop.Person(ctx, a.By, a.Param("id")); err != nil {
		return v, err
	}
	if v.Left != 0 {
		return v, fault.New(fault.Conflict, "%s", p.say(a, "leave.left", v.Name))
	}
	v.Copy = people.May(a.Me(), people.SeeMoney, people.Object{Owner: v.ID, OwnerShares: v.Shares})
	has, err := p.every(a, model.FindQuery{Person: v.Name, Limit: 200})
	if err != nil {
		return v, err
	}
	for _, t := range has {
		if t.Owner != v.Name {
			v.Settle = append(v.Settle, settling{t, p.say(a, "leave.has", v.Name, t.Owner)})
		}
	}
	own, err := p.every(a, model.FindQuery{Owner: v.Name, Limit: 200})
	for _, t := range own {
		switch {
		case t.State == custody.InPlace || t.Person == v.Name:
			v.Takes = append(v.Takes, t)
		case t.Person != "":
			v.Settle = append(v.Settle, settling{t, p.say(a, "leave.lent", v.Name, t.Person)})
		default:
			v.Settle = append(v.Settle, settling{t, p.say(a, "leave.away", v.Name)})
		}
	}
	return v, err
}

// every follows a list to its end.
func (p *Pages) every(a *Ask, q model.FindQuery) (all []model.ToolRow, err error) {
	for {
		rows, next, err := p.shop.Find(a.R.Context(), a.By, q)
		all = append(all, rows...)
		if err != nil || next == "" {
			return all, err
		}
		q.Cursor = next
	}
}

func (p *Pages) leavePage(a *Ask) (Reply, error) {
	v, err := p.leaving(a)
	return Show("peopleleave", v), err
}

func (p *Pages) leave(a *Ask) (Reply, error) {
	left, err := p.shop.Leave(a.R.Context(), a.By, a.Param("id"), model.Leave{Settled: a.Value("settled") == "yes"})
	if err != nil {
		v, failed := p.leaving(a)
		if failed != nil {
			return Reply{}, err
		}
		if fault.Is(err, fault.Conflict) { // the page itself lists what is open
			err = fault.New(fault.Conflict, "%s", p.say(a, "leave.open", v.Name)).WithHint("%s", p.say(a, "leave.open-hint"))
		}
		return a.Again("peopleleave", v, err), nil
	}
	if left.Person.ID == a.Me().Person {
		p.door.SignOut(a.W, a.R)
		return Go("/signed-out"), nil
	}
	return Go("/people", p.say(a, "leave.done", left.Person.Name, len(left.Takes), len(left.Devices)+len(left.Tokens))), nil
}

// let is what the page of devices shows.
type let struct {
	InForce, Ended []model.DeviceView
	Leads          bool
	Mine           string // the device that asks
}

func (p *Pages) devicesPage(a *Ask) (Reply, error) {
	all, err := p.shop.Devices(a.R.Context(), a.By)
	v := let{Leads: a.leads(), Mine: a.Me().Device}
	for i := range all {
		d := all[len(all)-1-i] // the newest first
		if d.InForce {
			v.InForce = append(v.InForce, d)
		} else {
			v.Ended = append(v.Ended, d)
		}
	}
	return Show("devices", v), err
}

// revokeDevice shuts a device out, and goes back to where that was tapped.
func (p *Pages) revokeDevice(a *Ask) (Reply, error) {
	gone, err := p.shop.RevokeDevice(a.R.Context(), a.By, a.Param("id"))
	back := "/devices"
	switch a.Value("at") {
	case "me":
		back = "/me"
	case "person":
		if gone.Device.Person != "" { // a board is nobody's
			back = personPath(gone.Device.Person)
		}
	}
	switch {
	case fault.Is(err, fault.Conflict):
		return Go("/devices", p.say(a, "devices.already")), nil
	case fault.Is(err, fault.Refused):
		return Reply{}, fault.New(fault.Refused, "%s", p.say(a, "me.out-last")).WithHint("%s", p.say(a, "me.out-last-hint"))
	}
	return Go(back, p.say(a, "devices.revoked", gone.Name)), err
}

// others are those whom a device is let in for, besides people.
type others struct{ Kinds []Option }

func (p *Pages) others(a *Ask) others {
	kinds := p.Options(a.language(), "devicesadd.kind.", string(people.BoardDevice), string(people.ViewersDevice))
	for i := range kinds {
		kinds[i].Hint = p.say(a, "devicesadd.kind-hint."+kinds[i].Value)
		kinds[i].Chosen = i == 0
	}
	return others{kinds}
}

func (p *Pages) devicesAdd(a *Ask) (Reply, error) { return Show("devicesadd", p.others(a)), nil }

// enrollDevice shows a link by which a board or a viewer is let in.
func (p *Pages) enrollDevice(a *Ask) (Reply, error) {
	ctx, name := a.R.Context(), a.Value("name")
	var e model.Enrolment
	var err error
	switch kind := people.DeviceKind(a.Value("kind")); {
	case kind == people.BoardDevice && a.Value("until") != "":
		err = fault.At("#/until", "%s", p.say(a, "devicesadd.no-until"))
	case kind == people.BoardDevice:
		e, err = p.shop.EnrollShopDevice(ctx, a.By, name)
	case kind == people.ViewersDevice:
		e, err = p.shop.EnrollViewer(ctx, a.By, name, a.Value("until"), a.Value("claim"))
	default:
		err = fault.At("#/kind", "%s", p.say(a, "devicesadd.no-kind"))
	}
	if err != nil {
		return a.Again("devicesadd", p.others(a), renamed(err, "name", "#/shop_device", "#/viewer")), nil
	}
	return p.invite(a, e, "/devices")
}

// renamed puts what is said of some pointers beside a field of the form.
func renamed(err error, field string, pointers ...string) error {
	f := fault.Of(err)
	if f == nil {
		return err
	}
	out := *f
	out.Fields = nil
	for _, each := range f.Fields {
		for _, pointer := range pointers {
			if each.Pointer == pointer {
				each.Pointer = "#/" + field
			}
		}
		out.Fields = append(out.Fields, each)
	}
	return &out
}

func (p *Pages) meRoutes() []Route {
	return []Route{
		get("/me", p.mePage),
		post("/me/language", p.setLanguage),
		post("/me/share", p.share),
		{Method: http.MethodPost, Path: "/me/out", answer: p.signOut, refused: p.signOutRefused},
		get("/me/enroll", func(*Ask) (Reply, error) { return Go("/me"), nil }),
		post("/me/enroll", p.enrollMine),
	}
}

// self is what somebody's own page shows.
type self struct {
	people.Person                    // zero: a board, a viewer, or the shop itself
	Role          people.Role        // on this device
	Device        string             // id of the one that asks
	Until         dates.Date         // last day of a viewer's access; empty: none is set
	Packets       []model.PacketView // that a viewer is let in for, newest first
	Devices       []model.DeviceView // own ones in force
	Languages     []Option
	Shares        []Option
}

func (p *Pages) self(a *Ask) (v self, err error) {
	me, ctx := a.Me(), a.R.Context()
	v = self{Role: me.Role, Device: me.Device, Shares: p.Options(a.language(), "me.shares.", "yes", "no")}
	for _, l := range words.Languages() {
		v.Languages = append(v.Languages, Option{Value: string(l), Label: words.Say(l, "language"), Chosen: l == a.language()})
	}
	if me.Role == people.Viewer {
		own, err := p.shop.OwnDevice(ctx, a.By)
		if v.Until = own.Until; err != nil || me.Claim == "" {
			return v, err
		}
		v.Packets, err = p.shop.Packets(ctx, a.By, me.Claim)
		slices.Reverse(v.Packets)
		return v, err
	}
	if me.Person == "" || me.Role == people.ShopDevice {
		return v, nil
	}
	if v.Person, err = p.shop.Person(ctx, a.By, me.Person); err != nil {
		return v, err
	}
	v.Shares[0].Chosen, v.Shares[1].Chosen = v.Person.Shares, !v.Person.Shares
	all, err := p.shop.Devices(ctx, a.By)
	v.Devices = devicesOf(all, me.Person)
	return v, err
}

func (p *Pages) mePage(a *Ask) (Reply, error) {
	v, err := p.self(a)
	return Show("me", v), err
}

// setLanguage keeps on this device the language that its pages are shown in.
func (p *Pages) setLanguage(a *Ask) (Reply, error) {
	lang, known := words.Find(a.Value("lang"))
	if !known {
		v, err := p.self(a)
		if err != nil {
			return Reply{}, err
		}
		return a.Again("me", v, fault.At("#/lang", "%q is not one of the languages", a.Value("lang"))), nil
	}
	a.setCookie(languageCookie, string(lang), 400*24*3600)
	return Go("/me", words.Say(lang, "me.language-set")), nil
}

// share decides whether managers see the prices and papers of somebody's own
// tools.
func (p *Pages) share(a *Ask) (Reply, error) {
	yes := a.Value("shares") == "yes"
	_, err := p.shop.ChangePerson(a.R.Context(), a.By, a.Me().Person, a.rev(), model.PersonChange{Shares: &yes})
	if err == nil {
		return Go("/me", p.say(a, map[bool]string{true: "me.shared", false: "me.unshared"}[yes])), nil
	}
	v, failed := p.self(a)
	if failed != nil {
		return Reply{}, failed
	}
	if fault.Is(err, fault.Stale) {
		err = p.overtaken(a, nil, v.Rev, p.say(a, "settings.stale"))
	}
	return a.Again("me", v, err), nil
}

// signOut ends this device. Where it may not go, its page says what to do first.
func (p *Pages) signOut(a *Ask) (Reply, error) {
	err := p.shop.EndSession(a.R.Context(), a.By)
	if fault.Is(err, fault.Refused) {
		v, failed := p.self(a)
		if failed != nil {
			return Reply{}, failed
		}
		return a.Again("me", v, fault.New(fault.Refused, "%s", p.say(a, "me.out-last")).WithHint("%s", p.say(a, "me.out-last-hint"))), nil
	}
	if err != nil {
		return Reply{}, err
	}
	p.door.SignOut(a.W, a.R)
	return Go("/signed-out"), nil
}

// signOutRefused asks at a shop device for the badge of whoever signs it out.
func (p *Pages) signOutRefused(a *Ask) (Reply, error) {
	v, err := p.self(a)
	if err != nil {
		return Reply{}, err
	}
	return a.Again("me", v, p.badgeInWords(a)), nil
}

// enrollMine shows a link by which a further device of the asker is let in.
func (p *Pages) enrollMine(a *Ask) (Reply, error) {
	e, err := p.shop.Enroll(a.R.Context(), a.By, a.Me().Name)
	if err != nil {
		v, failed := p.self(a)
		if failed != nil {
			return Reply{}, failed
		}
		return a.Again("me", v, err), nil
	}
	return p.invite(a, e, "/me")
}
