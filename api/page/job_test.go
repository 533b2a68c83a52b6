package page_test

import (
	"strings"
	"testing"

	"pawl/model"
	"pawl/model/register"
)

// A job on the phone from its opening to its close: what is not back, a set that is looked
// at, a finding that is answered for.
func TestAJobIsClosed(t *testing.T) {
	b := openBay(t)
	wrench, set := b.tool("impact wrench"), b.tool("socket set", register.Piece{Name: "10 mm socket", Count: 1}, register.Piece{Name: "hex key", Count: 12})
	page := b.techA.open("/jobs").says("No job is open").press("Open it", "number=RO/10", "vehicle=gray wagon", "safety=yes", "vin=AB12")
	page.with(200).says("Job RO/10 is open.", "gray wagon", "A safety job", "the VIN has 4 characters", "Nothing is recorded as taken to this job.", "Tools nobody scanned are not covered.")
	b.techA.open("/jobs/RO%2F10/allback").press("Before the engine is started").says("nothing was recorded as taken to it, Tech A").without("all recorded takes were back")
	b.techA.open("/jobs").press("Open it", "number=RO/10").with(409).says("open already")
	b.techA.open("/jobs").press("Open it", "number=10 42").with(422).keeps("number=10 42")
	for _, tool := range []string{wrench, set} {
		b.techA.open(tool).press("Take for job RO/10").says("You have it")
	}
	job := "/jobs/RO%2F10"
	b.techA.open(job+"/allback").says("NOT ALL BACK: of the recorded takes 0 of 2 are back.", "Sets looked at: 0 of 1.", "NOT BACK: Tech A has it")
	b.techA.open(job+"/close").says("Before it is closed", "still out to Tech A", "Sets that nobody looked at", "Only a manager closes it").without("Close it all the same")

	// What comes back is scanned; a label that says nothing is told.
	b.techA.open(job+"/allback").press("It came back", "code="+strings.ToLower(strings.TrimPrefix(wrench, "/t/"))).says("impact wrench", "NOT BACK: Tech A has it", "0 of 2 are back").press("Yes, this one came back").says("put back", "1 of 2 are back")
	b.techA.open(job+"/allback").press("It came back", "code=HTTPS://OTHER.EXAMPLE/T/"+strings.TrimPrefix(set, "/t/")).with(422).says("That was not done", "other.example")
	b.techA.open(job+"/allback").press("It came back", "code=hello").with(422).says("That was not done", "hello").keeps("code=hello")
	b.techA.open(job + "/allback").press("Not there: what I tapped").with(422).says("tap what is missing")
	b.techA.open(job+"/allback").press("It came back", "code=T/"+strings.TrimPrefix(b.tool("flex light"), "/t/")).says("was never taken to this job")
	b.techA.open(job+"/allback").press("It came back", "code=T/"+strings.TrimPrefix(set, "/t/")).says("2, all of them")
	b.techA.open(job+"/allback").press("Not there: what I tapped", "missing[]=10 mm socket", "missing:hex key=2").says("Kept: the set was looked at.", "Sets looked at: 1 of 1.", "10 mm socket did not come back", "hex key (2) did not come back")
	b.techA.open(job+"/allback").press("Before the engine is started").says("Kept, with your name.", "all recorded takes were back, Tech A")

	// Each finding is answered for; a form that is refused says what it lacks.
	closing := b.techA.open(job + "/close")
	closing.press("Answer for it", "answer=found").with(422).says("say where")
	for range 3 {
		page = b.techA.open(job+"/close").press("Answer for it", "answer=known elsewhere", "who=Tech B").with(200).says("is answered for")
	}
	page.says("Nothing is open. It can be closed.").press("Close the job").with(200).says("Job RO/10 is closed.", "by Tech A", "Known elsewhere, with Tech B.")
	b.techA.open(job + "/close").says("It is closed already, by Tech A")
	b.techA.open(job).press("Open it again", "why=it rattles").says("is open again", "it rattles")
	b.techA.open(set+"/history").says("Its pieces were looked at", "A piece did not come back: 10 mm socket", "Known elsewhere, with Tech B").without("A record changed")
}

// What was searched for and not found stands on the job for ever; over what is open only
// a manager closes it.
func TestFlaggedAndOverridden(t *testing.T) {
	b := openBay(t)
	tool := b.tool("pick")
	b.techA.open(tool+"/take").press("Take it", "job=1042")
	b.techA.open(tool+"/return").press("Put it back", "broken=tip", "fragment=yes").says("DO NOT USE", "A FRAGMENT IS MISSING")
	b.techA.open("/jobs/1042").press("Keep it", "what=wheel-lock key").says("Held for the customer: wheel-lock key.")
	b.techA.open("/today").says("On jobs: does not add up", "A fragment of tip is missing")
	b.techA.open("/jobs/1042").press("Give it back: wheel-lock key").with(200)
	page := b.techA.open("/jobs/1042/close").press("Answer for it", "answer=searched and not found", "who=Tech A", "where=engine bay")
	page.says("SEARCHED AND NOT FOUND: A fragment of tip", "Tell the vehicle's owner.", "It can be closed.").press("Close the job").says("is closed", "Tell the vehicle's owner.")
	b.techA.open("/jobs/1042").press("Keep that they were told", "told=by phone").says("The vehicle's owner was told: by phone")
	b.techA.open("/today").without("On jobs: does not add up")
}

// What was searched for and turned up later is told as found since, wherever the job speaks
// of it: nobody tells the vehicle's owner that it lies in the vehicle still.
func TestFoundSinceIsToldAsFound(t *testing.T) {
	b := openBay(t)
	tool := b.tool("pry bar")
	b.techA.open(tool+"/take").press("Take it", "job=1042")
	b.techA.open("/jobs/1042/close").press("Answer for it", "answer=searched and not found", "who=Tech A", "where=engine bay").press("Close the job")
	b.techA.open("/today").says("SEARCHED AND NOT FOUND: pry bar", "is still out to Tech A. Tell the vehicle's owner.").without("Since then")
	b.techB.open(tool + "/return").press("Put it back").with(200)
	for _, path := range []string{"/jobs/1042", "/jobs/1042/allback", "/today"} {
		b.techA.open(path).says("SEARCHED AND NOT FOUND: pry bar", "did not come back. Since then: Found: it was put back. Tell the vehicle's owner.")
	}
	b.techA.open("/jobs/1042").press("Keep that they were told", "told=by phone").says("Since then: Found: it was put back. The vehicle's owner was told: by phone")
}

// The close that nobody offers is refused all the same.
func TestCloseIsRefusedInWords(t *testing.T) {
	b := openBay(t)
	b.techA.open("/jobs").press("Open it", "number=1042")
	open := b.techA.open("/jobs/1042/close")
	if _, err := b.shop.Hold(b.Context(), model.By{Actor: computer}, "1042", "fob"); err != nil {
		t.Fatal(err)
	}
	b.techA.anew(open).press("Close the job").with(409).says("job 1042 stays open: something is not answered for", "fob is still held for the customer.")
	b.boss.open("/jobs/1042/close").press("Close it all the same").with(422).says("say why")
	b.boss.open("/jobs/1042/close").press("Close it all the same", "override=the customer waits").says("CLOSED OVER WHAT WAS OPEN", "the customer waits")
	page := b.techA.open("/jobs/1042")
	page.press("Give it back: fob").says("fob is given back to the customer.", "Found: given to the customer")
	b.techA.lang = "es"
	b.techA.open("/jobs/1042").says("CERRADO A PESAR DE LO PENDIENTE", "Lo que nadie escaneó no está incluido.")
}
