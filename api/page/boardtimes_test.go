package page

import (
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"pawl/api/board"
	"pawl/model"
	"pawl/model/fault"
	"pawl/model/people"
	"pawl/model/settings"
)

// What the board says of a refusal is in the language of the screen, with its times on the
// shop's clock.
func TestTheBoardSaysTimesOnTheShopsClock(t *testing.T) {
	now := time.Date(2026, 11, 25, 18, 30, 0, 0, time.UTC)
	shop, err := model.Open(t.Context(), model.Options{Dir: t.TempDir(), Clock: func() time.Time { return now }})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = shop.Close() }()
	by, zone := model.By{Actor: people.Actor{Role: people.Manager, Via: people.ViaLocal}}, "America/Chicago"
	if _, err := shop.ChangeSettings(t.Context(), by, model.AnyRevision, settings.Change{Zone: &zone}); err != nil {
		t.Fatal(err)
	}
	late := fault.At("#/happened", "2026-11-25T16:00:00Z is before the last change of custody at 2026-11-25T18:10:00.25Z")
	for lang, want := range map[string]string{
		"en": "today 10:00 is before the last change of custody at today 12:10",
		"es": "hoy 10:00 es antes de que cambiara de manos la última vez, hoy 12:10",
	} {
		a := &Ask{R: httptest.NewRequest("POST", "/board", nil), By: by}
		a.R.Header.Set("Accept-Language", lang)
		end, err := New(shop, Options{}).boardRefused(a, &board.Board{}, board.Order{Kind: board.Take, Number: "000-01Y"}, late)
		if said := end.said.In(a.language()); err != nil || !strings.Contains(said, want) {
			t.Errorf("%s: %q, %v; want %q", lang, said, err, want)
		}
	}
}
