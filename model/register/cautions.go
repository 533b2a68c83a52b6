package register

import "strings"

// The cautions of the trade, by what a kind of tool does. The vehicle maker's
// service information, local rules and licensed practice always come first.
const (
	cautionTorque = "Torque: the vehicle maker's service information governs value, sequence, lubrication and one-time fasteners. " +
		"A calibration speaks of its day. Where its maker says so, wind a setting wrench down to its lowest mark, never below."
	cautionLift = "Lifting: Pawl never says that a lift, jack, stand or sling is safe. Local rules, its inspection and the maker's " +
		"instructions decide; rated load is never exceeded."
	cautionPressure = "Pressure: let it off before you open anything. The maker's instructions and local codes govern; never mark or alter a part that holds pressure."
	cautionVoltage  = "High voltage: an accurate meter does not clear the work. Category rating, leads, live-dead-live test and protective " +
		"equipment as the vehicle maker says, by licensed practice; gloves are air-tested before each use."
)

var cautions = []struct {
	caution string
	words   []string
}{
	{cautionTorque, []string{"torque", "impact wrench", "ratchet", "angle gauge"}},
	{cautionLift, []string{"lift", "jack", "stand", "sling", "hoist", "crane", "engine support"}},
	{cautionPressure, []string{"pressure", "compressor", "tire inflator", "air tank", "refrigerant", "grease gun", "hydraulic"}},
	{cautionVoltage, []string{"multimeter", "clamp meter", "insulat", "voltage", "battery tester", "high-voltage"}},
}

// Cautions gives what stands beside everything that is shown of a kind of tool.
func Cautions(kind string) (out []string) {
	kind = strings.ToLower(kind)
	for _, c := range cautions {
		for _, w := range c.words {
			if strings.Contains(kind, w) {
				out = append(out, c.caution)
				break
			}
		}
	}
	return out
}
