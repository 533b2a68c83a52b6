package page_test

import (
	"net/url"
	"strings"
	"testing"
	"time"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/people"
)

// Every fault line of the catalog is there in Spanish, and names in it what it
// names in English.
func TestFaultLinesAreWhole(t *testing.T) {
	spanish := map[string]bool{}
	for _, key := range words.Keys(words.Spanish) {
		spanish[key] = true
	}
	n := 0
	for _, key := range words.Keys(words.English) {
		if !strings.HasPrefix(key, "fault.") {
			continue
		}
		n++
		if !spanish[key] {
			t.Errorf("%s is not in Spanish", key)
		}
		for i := 1; strings.Contains(words.Say(words.Spanish, key), "{"); i++ {
			hole := "{" + string(rune('0'+i)) + "}"
			if strings.Contains(words.Say(words.Spanish, key), hole) && !strings.Contains(words.Say(words.English, key), hole) {
				t.Errorf("%s: Spanish names %s, which English does not", key, hole)
			}
			if i == 9 {
				break
			}
		}
	}
	if n < 40 {
		t.Errorf("only %d fault lines", n)
	}
}

// What is refused of an act on a tool is said in Spanish on a Spanish page,
// field by field, with what to do; nothing of it stays in English.
func TestRefusalsInSpanish(t *testing.T) {
	b := openBayAt(t, 10*time.Millisecond)
	b.techA.lang, b.boss.lang = "es", "es"
	board := b.walker(people.Actor{Name: "Wall board", Role: people.ShopDevice, Via: people.ViaDevice, Device: "D-BOARD"})
	board.lang = "es"
	bar, wrench, jack := b.tool("breaker bar"), b.tool("torque wrench"), b.tool("ratchet")
	b.techA.open(wrench).press("Se cayó")
	b.techA.open(jack).press("Tomarla")
	long := strings.Repeat("x", 3000)
	for _, c := range []struct {
		who    *walker
		path   string
		button string
		typed  []string
		status int
		says   []string
	}{
		{b.techA, bar + "/take", "Tomarla", []string{"due=2001-01-01"}, 422, []string{"No se hizo", "el plazo", "no es posterior a", "cuando se toma"}},
		{b.techA, bar + "/take", "Tomarla", []string{"due=tomorrow"}, 422, []string{"\"tomorrow\" no es un día del calendario (escríbalo como AAAA-MM-DD"}},
		{b.techA, bar + "/take", "Tomarla", []string{"happened=2099-01-01T10:00"}, 422, []string{"está en el futuro; ahora es hoy"}},
		{b.techA, bar + "/take", "Tomarla", []string{"happened=soon"}, 422, []string{"\"soon\" no es una hora", "con su diferencia"}},
		{b.techA, jack + "/return", "Devolverla a su lugar", []string{"happened=2001-01-01T10:00"}, 422, []string{"es antes de que cambiara de manos la última vez"}},
		{b.boss, bar + "/take", "Tomarla", []string{"to=Nobody"}, 422, []string{"nadie aquí se llama \"Nobody\""}},
		{b.techA, wrench + "/take", "Tomarla", nil, 409, []string{"NO USAR: se cayó", "Tome otra"}},
		{b.techA, bar + "/take", "Tomarla", []string{"job=" + long}, 422, []string{"el número de trabajo", "más de 32 caracteres"}},
		{b.techA, jack + "/handover", "Entregarla", nil, 422, []string{"diga quién la tiene ahora"}},
		{b.techA, bar + "/wrong", "Algo está mal", []string{"what=dropped", "happened=2099-01-01T10:00"}, 422, []string{"está en el futuro"}},
		{b.boss, bar + "/clear", "Se puede volver a usar", []string{"why=looked at it"}, 409, []string{"no hay nada reportado", "no hay nada que levantar"}},
		{b.boss, wrench + "/clear", "Se puede volver a usar", []string{"why=looked at it"}, 409, []string{"mirarla no basta después de lo que pasó: se cayó", "calibración de herramienta aprobada", "después de 2026-11-25 09:00"}},
		{b.boss, wrench + "/clear", "Se puede volver a usar", nil, 422, []string{"diga por qué se puede volver a usar"}},
		{board, bar + "/take", "Tomarla", []string{"badge=B/XXXXXXXX"}, 403, []string{"nadie aquí tiene la credencial B/XXXXXXXX", "pida una nueva a un gerente"}},
		{board, bar + "/take", "Tomarla", []string{"badge=x"}, 400, []string{"Esa no es una credencial que se pueda leer", "Escanee su credencial"}},
	} {
		page := c.who.open(c.path).press(c.button, c.typed...).with(c.status).says(c.says...)
		page.without("custody", " was ", "cannot", "there is", "the last", "nobody", "manager", " is ")
	}
	for range 10 {
		page := board.open(bar+"/take").press("Tomarla", "badge=B/XXXXXXXX")
		if page.status == 429 {
			page.says("demasiados intentos equivocados: 10 en un minuto", "espere", "un gerente imprime una nueva").without("wait", "wrong tries")
		}
	}
	board.open(bar+"/take").press("Tomarla", "badge=B/XXXXXXXX").with(429).says("demasiados intentos equivocados")
	board.open("/scan?code=" + url.QueryEscape("B/0123456Z")).with(422).says("ese no es el código de una herramienta")
	board.open("/scan?code=hello").with(422).says("no es un número de herramienta", "tiene seis caracteres").without("tool number")
	board.open("/t/00000A").says("Ninguna herramienta").without("No tool")
	if _, err := b.shop.Gone(t.Context(), model.By{Actor: computer}, strings.TrimPrefix(bar, "/t/"), model.Gone{Why: "sold"}); err != nil {
		t.Fatal(err)
	}
	b.techA.open(bar).says("Se fue: vendida")
}
