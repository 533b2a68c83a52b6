package worth

import (
	"math/big"

	"pawl/model/fault"
)

// Convention says when in a year a thing counts as placed in service.
type Convention string

const (
	HalfYear Convention = "half-year"
	Quarter1 Convention = "mid-quarter, first"
	Quarter2 Convention = "mid-quarter, second"
	Quarter3 Convention = "mid-quarter, third"
	Quarter4 Convention = "mid-quarter, fourth"
)

// percents are the tables of IRS Publication 946, appendix A, in
// hundredths of a percent, by convention and recovery period. They are printed
// figures and cannot be worked out anew: 200 % declining balance rounds to 44.44
// where the table prints 44.45 (money-and-statistics 1.4, notes 1 to 3; years 6 to
// 8 of A-3 are from memory).
var percents = map[Convention]map[int][]int64{
	HalfYear: {3: {3333, 4445, 1481, 741}, 5: {2000, 3200, 1920, 1152, 1152, 576}, 7: {1429, 2449, 1749, 1249, 893, 892, 893, 446}},
	Quarter1: {3: {5833, 2778, 1235, 154}, 5: {3500, 2600, 1560, 1101, 1101, 138}, 7: {2500, 2143, 1531, 1093, 875, 874, 875, 109}},
	Quarter2: {3: {4167, 3889, 1414, 530}, 5: {2500, 3000, 1800, 1137, 1137, 426}, 7: {1785, 2347, 1676, 1197, 887, 887, 887, 334}},
	Quarter3: {3: {2500, 5000, 1667, 833}, 5: {1500, 3400, 2040, 1224, 1130, 706}, 7: {1071, 2551, 1822, 1302, 930, 885, 886, 553}},
	Quarter4: {3: {833, 6111, 2037, 1019}, 5: {500, 3800, 2280, 1368, 1094, 958}, 7: {357, 2755, 1968, 1406, 1004, 873, 873, 764}},
}

// TaxYears spreads a basis over the years of its recovery period (3, 5 or 7). Each
// year is rounded; the last takes what is left, so that the years add up to the
// basis. It is a planning figure: the preparer decides.
func TaxYears(basis int64, when Convention, period int) ([]int64, error) {
	table := percents[when][period]
	if table == nil {
		return nil, fault.New(fault.Invalid, "there is no table for %d years, %s", period, when).WithHint("use 3, 5 or 7 years")
	}
	out, left := make([]int64, len(table)), basis
	for i, p := range table {
		if out[i] = Times(basis, big.NewRat(p, 10_000)); i == len(table)-1 {
			out[i] = left
		}
		left -= out[i]
	}
	return out, nil
}

// UnderSafeHarbor says whether the cost of one item, with its share of freight, is
// within the de minimis limit of Reg. §1.263(a)-1(f); Notice 2015-82 sets 2,500
// without an applicable financial statement. It needs a policy and an election.
func UnderSafeHarbor(cost, limit int64) bool { return cost <= limit }
