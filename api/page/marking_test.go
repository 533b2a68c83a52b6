package page_test

import (
	"strings"
	"testing"

	"pawl/model"
	"pawl/model/markings"
	"pawl/model/register"
)

// markedTool registers a tool whose serial is printed.
func (b *bay) markedTool(t *testing.T, kind, serial string) string {
	t.Helper()
	daily := "daily"
	done, err := b.shop.Register(t.Context(), model.By{Actor: computer}, register.New{SerialAgain: serial, Change: register.Change{Kind: &kind, Serial: &serial, Usage: &daily,
		Marking: &register.MarkingEntry{Method: "printed"}}})
	if err != nil {
		t.Fatal(err)
	}
	return string(done.Number)
}

// What nobody has looked at is not known, and never in order; a look gives a date, and
// what is lost has none any more. A look taken back counts no more.
func TestPageOfAMarking(t *testing.T) {
	b := openBay(t)
	at := "/t/" + b.markedTool(t, "impact wrench", "KD408B217") + "/marking"
	b.techA.open("/today").with(200).says("Markings to look at this month", "All of them, in walking order: 1")
	b.techA.open("/markings").with(200).says("Walk the round", "never looked at", "NOT KNOWN: nobody has looked at it", "service information governs value")
	b.techA.open(at).with(200).says("NOT KNOWN: nobody has looked at it", "One tap saves", "Never re-cut, restamp or alter", "before cleaning it").without("Expected", "in order").
		press(worn, "read=KD408B217").with(200).
		says("Grade 3: worn, every character certain at a glance", "lost by today: less than 1 in 100", "50 in 100 have lost a character by then", "Assumed: the shop has too few looks", "without a photo",
			"differ by 50 in 100 in how fast they wear (assumed)", "used weekly", "0.2 (assumed)", "service information governs value")
	b.techA.open(at).press(lost, "read=KD4?8B217").with(200).
		says("LOST. Grade 1: at least one character lost", "no date is given any more", "permanent owner", "What is left of it may still say which tool it is").without("50 in 100")
	b.techA.open(strings.TrimSuffix(at, "/marking")).with(200).says("LOST. Grade 1", "A character of the serial is lost", "Look at its marking")
	b.boss.open(at).press("Withdraw it", "why=of another tool").with(200).says("withdrawn: of another tool", "Grade 3: worn")
}

// Whoever looked takes back their own look, and nobody else's; whoever may change the tool
// takes back how it was kept, too.
func TestWhoTakesBackALook(t *testing.T) {
	b := openBay(t)
	number, owner := b.markedTool(t, "impact wrench", "KD408B217"), "Tech A"
	if _, err := b.shop.ChangeTool(t.Context(), model.By{Actor: computer}, number, model.AnyRevision, register.Change{Owner: &owner}); err != nil {
		t.Fatal(err)
	}
	at := "/t/" + number + "/marking"
	b.boss.open(at).press(worn).with(200)
	b.techB.open(at).without("Entered by mistake").press(lost).with(200).says("LOST", "Entered by mistake").
		press("Withdraw it", "why=of another tool").with(200).says("withdrawn: of another tool", "Grade 3: worn").without("Entered by mistake")
	b.boss.open(at).says("Entered by mistake")
	b.techA.open(at).press("Record the protection", "protection=none").with(200).says("protection: nothing").
		press("Withdraw it", "why=it was taped").with(200).says("withdrawn: it was taped")
}

// What an act says back is in the page's language, what is refused too.
func TestMarkingsInSpanish(t *testing.T) {
	b := openBay(t)
	b.techA.lang, b.boss.lang = "es", "es"
	at := "/t/" + b.markedTool(t, "impact wrench", "KD408B217") + "/marking"
	grade3 := "3 gastada, cada carácter seguro a simple vista"
	b.techA.open(at).press(grade3, "read=KD40{9X}").with(200).
		says("Lo que se leyó, KD40{9X}, no corresponde a la serie registrada", "no cuenta en ningún pronóstico", "El grado 3 dice", "Sin foto de esta revisión").without("What was read", "No photo", "says that every", "counts in no")
	b.techA.open(at).press(grade3, "read=KD408B217").with(200).says("Cuánto cuenta un día", "(supuesto)")
	b.techA.open(at).press("2 se lee solo con cuidado: luz lateral, lupa", "read=KD4?8B217").with(200).says("El grado 2 dice que con cuidado se leen todos").without("leaves some out")
	b.techA.open(at).press("1 se perdió al menos un carácter", "read=KD408B217").with(422).says("el grado 1 dice que se perdieron", "dé el grado 2").without("every one is read").keeps("read=KD408B217")
	b.techA.open(at).press("Guardar sin grado", "read=KD408B217").with(200).says("No se dio grado").without("No grade")
	b.techA.open(at).press(grade3, "on=2099-01-01").with(422).says("está en el futuro; hoy es", "anótelo ese mismo día").without("in the future", "today")
	b.techA.open(at).press("Guardar sin grado").with(422).says("no se dice nada de la marca", "dé un grado").without("nothing is said")
	b.boss.open(at).press("Registrar la protección", "protection=none").with(200).press("Registrar la protección", "protection=none").with(200).
		says("Ya está registrado así").without("already")
	b.boss.open(at).press("Registrar la marca nueva", "remark=sticker").with(200).says("La marca anterior terminó el").without("ended on")
}

// A look within the round that is sent once more, as a phone does that had no answer,
// goes on where it went before.
func TestALookSentOnceMoreGoesOn(t *testing.T) {
	b := openBay(t)
	var all []string
	for _, serial := range []string{"KD408B217", "KD408B218", "KD408B219"} {
		all = append(all, b.markedTool(t, "impact wrench", serial))
	}
	second := b.techA.open("/t/" + all[1] + "/marking?round=yes").with(200).says("left to look at")
	first := second.press("4 crisp", "read=KD408B218").with(200)
	again := second.press("4 crisp", "read=KD408B218").with(200)
	if first.path != again.path {
		t.Errorf("went on to %s, and sent once more to %s", first.path, again.path)
	}
}

const (
	worn = "3 worn, every character certain at a glance"
	lost = "1 at least one character lost"
)

// What is wrong with a look is said beside its field, and nothing is kept.
func TestRefusedLooks(t *testing.T) {
	b := openBay(t)
	number := b.markedTool(t, "impact wrench", "KD408B217")
	at := "/t/" + number + "/marking"
	b.techA.open(at).press(worn, "grade=9").with(422).says("9 is not a grade")
	b.techA.open(at).press(worn, "grade=lots").with(422).says("is not a grade")
	b.techA.open(at).press(worn, "on=2099-01-01").with(422).says("in the future")
	b.techA.open(at).press(worn, "read=KD[4").with(422).keeps("read=KD[4")
	v, err := b.shop.Markings(t.Context(), model.By{Actor: computer}, number)
	if err != nil || len(v.Markings) != 1 || len(v.Markings[0].Checks) != 0 {
		t.Errorf("%+v, %v", v.Markings, err)
	}
	b.techA.open("/t/23456789/marking").with(404)
}

// Tape and an owner's number are recorded where the tool may be changed, and stand on
// its page beside the serial; what rubs off is no owner's number.
func TestMarkingIsKept(t *testing.T) {
	b := openBay(t)
	number := b.markedTool(t, "impact wrench", "KD408B217")
	at := "/t/" + number + "/marking"
	b.techA.open(at).press("Record the protection", "protection=clear tape").with(200).says("protection: clear tape").
		press("Record the owner's number", "code=GLG-0117", "method=engraved", "spot=beside the serial").with(200).says("Owner's number GLG-0117", "beside the serial")
	b.techA.open("/t/"+number).says("Owner's number GLG-0117", "KD408B217")
	b.techA.open(at).press("Record the owner's number", "code=GLG-0118", "method=printed").with(422)
	v, err := b.shop.Markings(t.Context(), model.By{Actor: computer}, number)
	if err != nil || len(v.Markings) != 2 || v.Markings[1].Shows != markings.OwnersNumber || v.Serial != "KD408B217" {
		t.Errorf("%+v, %v", v, err)
	}
}
