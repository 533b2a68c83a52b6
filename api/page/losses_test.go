package page_test

import (
	"testing"

	"golang.org/x/net/html"

	"pawl/api/page/words"
	"pawl/model"
	"pawl/model/claims"
	"pawl/model/worth"
)

// TestALossOnAPhone reports a loss from what is left, confirms it, tells the police, adds
// what is found later, opens a claim, and takes a tool back, by its pages, without a script.
func TestALossOnAPhone(t *testing.T) {
	b, cart, box, out := counted(t)
	ctx, by := b.Context(), model.By{Actor: computer}
	if _, err := b.shop.AddPolicy(ctx, by, model.NewPolicy{NewPolicy: worth.NewPolicy{Name: "Shop contents", Limit: "18000", Deductible: "250", Basis: "rcv"}}); err != nil {
		t.Fatal(err)
	}
	b.boss.open("/losses").with(200).says("Nothing was reported lost.", "the policy's wording decides")
	start := b.boss.open("/losses/start").with(200).says("Touch nothing before the police were there")
	start.press("Report a loss", "kind=theft", "where=Bay 1").with(422).says("say when it was found out")
	page := start.press("Report a loss", "kind=theft", "found=2026-11-25T02:00", "where=Bay 1, side door forced", "place=Bay 1").with(200).
		says("The loss is reported.", "Theft: Bay 1, side door forced", "The count of Bay 1 is under way.", "Not accounted for: 2.", "Not missing: somebody has it", "out to Tech B", "Not reported to the police on record.")
	path := page.path
	b.techA.open(path).with(404)
	b.boss.open("/today").says("Losses not settled", "Bay 1, side door forced")

	page = page.press("Put on the list what was not seen").with(200).says("The list is as the count has it.", dashed(cart), "MISSING", "no record shows when it was last seen")
	page = page.press("Put it on the list", "numbers=hello").with(422).says("hello")
	page = b.boss.open(path).press("Put it on the list", "numbers="+dashed(box)).with(200).says("It is on the list.", dashed(box))
	page = page.press("The list was handed over").with(200).says("Given out up to list 1.")
	page = page.press("All that is missing was stolen (2)").with(200).says("It is confirmed.", "STOLEN")
	b.boss.open("/t/"+cart).with(200).says("STOLEN", "On the list of a loss, line 1")
	b.techA.open("/t/" + cart).with(200).without("On the list of a loss")

	forms := b.boss.open(path)
	forms.press("Keep the report", "agency=", "report=26-11873").with(422).says("say to whom it was reported")
	page = b.boss.open(path).press("Keep the report", "agency=County sheriff", "report=26-11873").with(200).says("The report is kept.", "County sheriff", "report 26-11873")

	tool := b.boss.open(path+"/tools/"+box).with(200).says("line 2", "jack")
	tool.press("Keep it", "left=its case").with(200).says("left behind: its case")
	b.boss.open(path + "/tools/" + out).with(404)
	b.boss.open(path+"/tools/"+box).press("Take it off the list", "why=in the other van").with(200).says("Withdrawn: not of this loss", "withdrawn: in the other van")

	claim := b.boss.open(path).press("Open a claim").with(200).says("The claim is open.", "Insurance claim: Shop contents", "Of 1 nothing is said.", "Not in this claim", "withdrawn from the loss")
	at := claim.path
	claim.press("Keep the amount", "tool="+dashed(cart), "asked=649.00").with(200).says("asked: 649.00 USD", "Asked in all: 649.00 USD.")
	claim = b.boss.open(at).press("Keep what happened", "on=2026-11-25", "what=first payment", "amount=399.00", "payment=actual cash").with(200).
		says("Actual cash: the rest is held back", "find out the last day to ask for the second payment", "not known; paid on 25 Nov 2026", "the policy or the insurer's letter says it")
	b.boss.open("/due?sort=claim").with(200).says("find out the last day to ask for the second payment", at[len("/claims/"):])
	claim.press("Keep what happened", "on=2026-11-25", "what=second payment", "payment=rest").with(422).says("say how much was paid")
	b.boss.lang = "es"
	b.boss.open(at).says("averiguar el último día para pedir el segundo pago", "no se sabe; se pagó el", "lo dice la póliza o la carta de la aseguradora", "retirada de la pérdida").without("find out", "NOT KNOWN", "withdrawn from the loss")
	b.boss.open(path).press("Guardar la denuncia", "agency=County sheriff").says("La denuncia queda guardada.", "Aún por buscar donde pasó", "decide el texto de la póliza").without("Scan what is left")
	b.boss.lang = ""
	b.techA.open(at).with(404)
	b.boss.open("/losses").with(200).says("Shop contents", "Theft")

	back := b.boss.open("/losses/recovered?tool=" + dashed(cart)).with(200)
	back.press("It came back", "number=", "serial=", "reading=").with(422).says("say in one way which tool came back")
	b.boss.open("/losses/recovered?tool="+dashed(cart)).press("It came back", "at=pawn shop").with(200).says("OUT OF USE until it is looked over", "CAME BACK", "pawn shop")
	b.boss.open("/t/"+cart+"/history").with(200).says("It came back", "Confirmed on the list of loss", "pawn shop")
	b.warrantyOnAPhone(t, box)
}

// TestNoAdviceIsSaidOnce: the pages say the sentence that the papers say.
func TestNoAdviceIsSaidOnce(t *testing.T) {
	if got := words.Say(words.English, "caution.claim"); got != claims.NoAdvice {
		t.Errorf("the pages say %q, the papers %q", got, claims.NoAdvice)
	}
}

// warrantyOnAPhone opens a claim from the page of a tool.
func (b *bay) warrantyOnAPhone(t *testing.T, box string) {
	t.Helper()
	b.techA.open("/t/" + box + "/claim").with(200).says("a claim on a tool is opened by its owner").without("It is faulty, and under warranty")
	form := b.boss.open("/t/" + box + "/claim").with(200).says("It is faulty, and under warranty")
	form.press("Open a claim", "about=warranty").with(422).says("say what is wrong with the tool")
	claim := form.press("Open a claim", "about=warranty", "fault=leaks oil").with(200).says("Warranty claim: jack", "leaks oil", "Whether the warranty runs still is UNKNOWN.")
	claim = claim.press("Keep what happened", "on=2026-11-24", "what=seller called").with(200).says("seller called")
	claim.press("Take it back", "mistake=they did not").with(422).says("choose what was entered by mistake") // none is chosen beforehand
	told := claim.all("option", func(n *html.Node) bool { return nodeAttr(n.Parent, "name") == "fact" && nodeAttr(n, "value") != "" })
	fact := "fact=" + nodeAttr(told[0], "value")
	claim.press("Take it back", fact, "mistake=").with(422).says("say why it is withdrawn")
	b.boss.open(claim.path).press("Take it back", fact, "mistake=they did not").with(200).says("It is withdrawn, and stays in the list with why.", "WITHDRAWN", "seller called", "they did not").
		without("Take one back that was entered by mistake")
	b.boss.open("/t/" + box).with(200).says("leaks oil")
}
