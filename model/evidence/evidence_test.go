package evidence

import (
	"strings"
	"testing"

	"pawl/model/fault"
)

func TestEveryKindIsReadByItsToken(t *testing.T) {
	// Tokens and words as the design lists them.
	const tokens = "plate whole label drawer receipt account card registration certificate warranty slip damage police statement other"
	const words = "serial plate, whole tool, label in place, drawer, receipt, account statement, card record, maker registration, certificate, warranty, slip, damage, police report, statement, other"
	photos := map[string]bool{"plate": true, "whole": true, "label": true, "drawer": true, "damage": true}

	said := strings.Split(words, ", ")
	if len(Kinds()) != len(said) {
		t.Fatalf("%d kinds, want %d", len(Kinds()), len(said))
	}
	for i, token := range strings.Fields(tokens) {
		kind, err := ParseKind(token)
		if err != nil || kind != Kinds()[i] {
			t.Errorf("ParseKind(%q) = %q, %v; want kind %d, %q", token, kind, err, i, Kinds()[i])
		}
		if kind.Words() != said[i] {
			t.Errorf("%q reads as %q, want %q", token, kind.Words(), said[i])
		}
		if kind.Photo() != photos[token] {
			t.Errorf("Kind(%q).Photo() = %v, want %v", token, kind.Photo(), photos[token])
		}
	}
}

func TestAnUnknownKindIsRefusedWithTheTokens(t *testing.T) {
	for _, token := range []string{"", "Plate", " plate", "serial plate", "invoice", strings.Repeat("x", 5000)} {
		kind, err := ParseKind(token)
		if kind != "" || !fault.Is(err, fault.Invalid) {
			t.Errorf("ParseKind(%.20q) = %q, %v; want Invalid", token, kind, err)
			continue
		}
		for _, want := range Kinds() {
			if !strings.Contains(err.Error(), string(want)) {
				t.Errorf("the fault for %.20q does not name %q: %v", token, want, err)
			}
		}
		if len(err.Error()) > 500 {
			t.Errorf("the fault has %d bytes; long text must be cut", len(err.Error()))
		}
	}
}

func TestAKindThatIsNotOursIsNoPhotoAndReadsAsItIs(t *testing.T) {
	if k := Kind("invoice"); k.Photo() || k.Words() != "invoice" {
		t.Errorf("Kind(invoice): photo %v, words %q", k.Photo(), k.Words())
	}
}

func TestRowsLieInTheTableEvidence(t *testing.T) {
	if got := (Record{}).TableName(); got != "evidence" {
		t.Errorf("table %q", got)
	}
}
