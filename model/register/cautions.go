package register

// The cautions of the trade, by what a kind of tool does. The vehicle maker's
// service information, local rules and licensed practice always come first.
const (
	cautionTorque = "Torque: the vehicle maker's service information governs value, sequence, lubrication and one-time fasteners. " +
		"A calibration speaks of its day. Where its maker says so, wind a setting wrench down to its lowest mark, never below."
	cautionLift = "Lifting: Pawl never says that a lift, jack, stand or sling is safe. Local rules, its inspection and the maker's " +
		"instructions decide; rated load is never exceeded."
	cautionPressure = "Pressure: let it off before you open anything. The maker's instructions and local codes govern; " +
		"never engrave, file, etch or heat-mark a part that holds pressure."
	cautionVoltage = "High voltage: an accurate meter does not clear the work. Category rating, leads, live-dead-live test and protective " +
		"equipment as the vehicle maker says, by licensed practice; gloves are air-tested before each use."
	cautionCutting = "Never engrave, file, etch or heat-mark a part that measures, carries load, or is a battery; ask whether marking ends a warranty."
	cautionNoLabel = "Never label, tape or mark gloves, insulation, vents or rating plates: the label goes on its bag or box, and the number is read from the maker's own marking."
)

// unlabelled takes no label, tape or mark of the shop.
var unlabelled = []string{"glove", "insulated", "insulating", "blanket"}

var cautions = []struct {
	caution string
	words   []string
}{
	{cautionTorque, []string{"torque", "impact", "ratchet", "breaker bar", "click wrench", "nut runner", "angle gauge"}},
	{cautionLift, []string{"lift", "jack", "jack stand", "axle stand", "stands", "sling", "hoist", "crane", "engine support", "spring compressor", "transmission stand"}},
	{cautionPressure, []string{"pressure", "compressor", "inflator", "air tank", "refrigerant", "manifold gauge", "grease gun", "hydraulic", "leak down"}},
	{cautionVoltage, []string{"multimeter", "meter", "insulated", "insulating", "voltage", "battery tester", "charger", "high voltage"}},
	{cautionCutting, []string{"battery", "torque wrench", "torque screwdriver", "caliper", "micrometer", "gauge", "meter", "multimeter", "jack", "sling", "indicator"}},
	{cautionNoLabel, unlabelled},
}

// Cautions gives what stands beside everything that is shown of a kind of tool.
func Cautions(kind string) (out []string) {
	for _, c := range cautions {
		if Says(kind, c.words...) {
			out = append(out, c.caution)
		}
	}
	return out
}

// TakesLabel says whether a label or tape may be put on a kind of tool.
func TakesLabel(kind string) bool { return !Says(kind, unlabelled...) }
