package page_test

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"pawl/api/page/words"
	"pawl/model/inspections"
)

// A jack that was overloaded is due until it passed, and no look clears it; a check
// that is not made on it is refused with those that are. Said in Spanish too.
func TestInspectionsOnAPage(t *testing.T) {
	b := openBay(t)
	jack := b.tool("floor jack")
	at := jack + "/inspections"
	b.techA.open(at).says("jack six-month", "none on record").
		press("Keep it", "check=jack six-month", "result=pass", "by=Tech A", "on=2026-10-01").says("Kept: jack six-month.")
	b.techA.open(jack).press("Overloaded")
	b.techA.open(at).says("OVERDUE", "it is due until it passes after that", "not permission")
	b.boss.open(jack+"/clear").press("It may be used again", "why=looked at it").with(409).says("1910.244", "has not passed it since")

	b.techA.lang, b.boss.lang = "es", "es"
	b.techA.open("/due").says("gato, cada seis meses", "sobrecargada el", "vence hasta que se apruebe después", "vence hoy").without("overloaded", "last good day", "six-month")
	page := b.techA.open(at).says("VENCIDA", "sobrecargada el", "no es un permiso", "gato, cada seis meses").without("overloaded on", "not permission", "OVERDUE")
	page.press("Guardar", "check=jack six-month", "result=pass").with(422).says("diga quién la hizo, y su número")
	page.press("Guardar", "check=other", "own=lift annual", "result=pass", "by=I").with(422).says("lift annual no se hace en esta herramienta (floor jack)", "corresponden: jack six-month").without("is not made")
	b.boss.open(jack+"/clear").press("Se puede volver a usar", "why=looked at it").with(409).says("sobrecargada el", "no se ha aprobado desde entonces", "necesita una inspección aprobada").without("has not passed")
	page.press("Guardar", "check=jack six-month", "result=pass", "by=Tech A").says("Guardado: gato, cada seis meses.").without("VENCIDA")
	b.boss.open(jack+"/clear").press("Se puede volver a usar", "why=inspected").with(200).says("Se puede volver a usar.", "Inspección: gato, cada seis meses").without("Inspected")

	page = b.techA.open(at)
	page.press("Pedir otra inspección", "asked=jack six-month").with(422).says("Diga qué pasó")
	page.press("Pedir otra inspección", "asked=jack six-month", "again=used at a neighbor's").says("vence ahora, hasta que se apruebe", "used at a neighbor's el")
}

// The address of a calendar is shown with its code when it is made, never after; the
// list says whether it was read, and ends it.
func TestTheAddressOfACalendarIsShownOnce(t *testing.T) {
	b := openBay(t)
	page := b.boss.open("/calendar").press("Make an address", "name=office", "whose=shop").says("The address of “office”", "It is shown this once", "/api/v1/calendar/")
	if codes := page.all("svg", func(*html.Node) bool { return true }); len(codes) != 1 {
		t.Errorf("%d codes", len(codes))
	}
	secret := regexp.MustCompile(`/api/v1/calendar/[\w-]+\.ics`).FindString(text(page.Node))
	page = b.boss.open("/calendar").says("office", "never read yet").without("/api/v1/calendar/")
	if got := b.boss.open(secret); got.status != 200 || !strings.Contains(text(got.Node), "BEGIN:VCALENDAR") {
		t.Fatalf("%q: %d %s", secret, got.status, text(got.Node))
	}
	page = b.boss.open("/calendar").says("last read").without("never read yet")
	page.press("End it").says("The address of office is ended.", "None.")
	b.boss.open(secret).with(404)
}

// Every check of the trade, and every caution of inspections, is there in Spanish.
func TestChecksAndTheirCautionsInSpanish(t *testing.T) {
	keys := words.Keys(words.Spanish)
	var checks []inspections.Check
	for _, r := range inspections.Catalog() {
		checks = append(checks, inspections.Check{Rule: r})
		if key := "check." + strings.ReplaceAll(r.Name, " ", "-"); !words.Has(key) || words.Say(words.English, key) != r.Name || !slices.Contains(keys, key) {
			t.Errorf("%s has no Spanish name", r.Name)
		}
	}
	for _, text := range inspections.Cautions(checks) {
		if !slices.ContainsFunc(keys, func(key string) bool {
			return strings.HasPrefix(key, "caution.") && words.Say(words.English, key) == text
		}) {
			t.Errorf("no Spanish text: %s", text)
		}
	}
}
