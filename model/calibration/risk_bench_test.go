package calibration

import "testing"

func BenchmarkWorstFalseAccept(b *testing.B) {
	for range b.N {
		WorstFalseAccept(2.8)
	}
}

func BenchmarkJudge(b *testing.B) {
	q := wrench()
	left, err := ParseReadings("40=40.1,40.0,40.2,40.1,40.1,120=120.2,120.1,120.2,120.0,120.1,200=200.1,200.3,200.2,200.2,200.0", q.Unit, Clockwise)
	if err != nil {
		b.Fatal(err)
	}
	r := Result{On: "2026-05-04", Paper: Certificate, AsLeft: left, Uncertainty: "1"}
	for b.Loop() {
		if _, err := Judge(q, r, Around{}); err != nil {
			b.Fatal(err)
		}
	}
}
