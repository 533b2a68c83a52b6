package markings

// Advice is a key of what to do about a marking; its text stands where it is shown.
type Advice string

const (
	AdviceLookNow        Advice = "look now"             // it may be unreadable already, or nobody ever looked
	AdvicePhotographNow  Advice = "photograph now"       // no photo shows the serial, and it can still be read
	AdvicePhotoFirst     Advice = "photograph first"     // before any cleaning: brake cleaner takes print off
	AdviceTape           Advice = "clear tape"           // on the clean, dry marking, after the photo
	AdviceOwnersNumber   Advice = "owner's number"       // permanent, of a sort that a police register accepts
	AdviceNeverEngrave   Advice = "never engrave"        // what measures, insulates, carries load or pressure, or is a battery; ask whether marking ends a warranty
	AdviceNeverMark      Advice = "never mark this kind" // gloves, insulation: no tape, no label, no number on it
	AdviceNeverRecut     Advice = "never recut"          // the maker's serial is not re-cut, restamped or altered: the owner's number goes beside it
	AdvicePhotographBoth Advice = "photograph both"      // the maker's serial and the owner's number
	AdviceMatch          Advice = "match"                // what is left of it may say which tool it is
	AdviceLookAgain      Advice = "look again"           // a grade rose: noise, or a re-marking that is not recorded
)

// Kept is what advice on a marking rests on.
type Kept struct {
	Method       Method
	Protection   Protection
	TakesLabel   bool // register.TakesLabel of the kind
	PlatePhoto   bool // a photo shows the serial
	OwnersNumber bool // a permanent owner's number is on the tool
	Forecast     Forecast
}

// Advise says what to do about a marking of the maker's serial, in the order in which
// to do it.
func Advise(k Kept) (out []Advice) {
	add := func(when bool, a ...Advice) {
		if when {
			out = append(out, a...)
		}
	}
	f := k.Forecast
	lost := f.Standing == IsLost
	wears := k.Method == "printed" || k.Method == "sticker"
	add(f.Rose, AdviceLookAgain)
	add(!lost && (f.Standing == NeverLooked || f.Unreadable != nil && *f.Unreadable >= likely), AdviceLookNow)
	add(!lost && !k.PlatePhoto, AdvicePhotographNow)
	add(wears, AdvicePhotoFirst)
	add(lost, AdviceMatch)
	add(wears && !lost && k.TakesLabel && k.Protection != "clear tape" && k.Protection != "lacquer", AdviceTape)
	number := (f.Protect || lost) && !k.OwnersNumber && k.TakesLabel
	add(number, AdviceOwnersNumber, AdviceNeverEngrave)
	add(!k.TakesLabel, AdviceNeverMark)
	add(f.Protect || lost, AdviceNeverRecut)
	add(number || k.OwnersNumber, AdvicePhotographBoth)
	return out
}
