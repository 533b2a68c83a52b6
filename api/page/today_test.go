package page_test

import "testing"

// Where a copy is to be made, nobody is told that nothing is to be done.
func TestACopyThatIsNotThereWaits(t *testing.T) {
	b := openBay(t)
	b.boss.open("/today").with(200).says("No copy was ever made").without("Nothing waits for you")
	b.techA.open("/today").with(200).says("Nothing waits for you")
}
