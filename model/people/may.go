package people

// Right is something that is asked of a tool or of what hangs on it.
type Right string

const (
	SeeMoney  Right = "see price, papers and packets"
	EditTool  Right = "register and edit"
	TakeTool  Right = "take for that holder"
	ShopActs  Right = "set up the shop"
	ClearTool Right = "clear do-not-use"
	EndTool   Right = "say that it is gone"
	SeeBadge  Right = "see or print the badge"
	SeePhoto  Right = "see a photo of the tool itself"
	LookTool  Right = "look at a marking"
	Recheck   Right = "settle work that was in doubt"
	Override  Right = "close a job over what is open"
	RunCount  Right = "start, settle or close a count"
	CountTool Right = "count tools"
	GiveWord  Right = "say that somebody else has it"
	RunLoss   Right = "report and settle a loss"
)

// Object is what the rules need to know of the thing asked about.
type Object struct {
	Owner       string // person id of the tool's owner, or whose badge it is, or who reported a loss; empty = the shop
	OwnerShares bool   // the owner shows prices and papers to managers
	Holder      string // TakeTool, GiveWord: person id of the one who would hold it, or does
	PlainSight  bool   // SeePhoto: it shows what whoever passes sees anyway
}

// May is the table of object and field rules: whether the actor has the right
// on the object. The matrix of routes and roles in api/access comes before it.
func May(a Actor, r Right, o Object) bool {
	if a.AtComputer() || a.Via == ViaChores {
		return true
	}
	// Whoever passes a shop device sees what it shows. A badge names its holder
	// there and opens nothing that is theirs.
	if a.Role == ShopDevice {
		holds := (r == TakeTool || r == GiveWord) && a.Badged() && a.Person == o.Holder
		return holds || r == CountTool && a.Badged() || r == SeePhoto && o.PlainSight
	}
	own := o.Owner != "" && o.Owner == a.Person
	shop := o.Owner == ""
	switch r {
	case SeeMoney:
		return own || a.Role == Manager && (shop || o.OwnerShares)
	case EditTool:
		return a.Role == Manager || a.Role == Technician && (own || shop)
	case TakeTool:
		return a.Role == Manager || a.Role == Technician && (a.Person == "" || a.Person == o.Holder)
	case SeeBadge: // at a board it is all the proof there is
		return own || a.Role == Manager
	case EndTool, RunLoss:
		return a.Role == Manager || a.Role == Technician && own
	case SeePhoto, LookTool: // a round is made past everybody's tools
		return a.Role == Manager || a.Role == Technician
	case Recheck: // whoever does the work again says so, whosever tool it was
		return a.Role == Manager || a.Role == Technician
	case CountTool:
		return a.Role == Manager || a.Role == Technician
	case GiveWord: // for oneself; a manager heard it from whoever has it
		return a.Role == Manager || a.Role == Technician && a.Person != "" && a.Person == o.Holder
	case ShopActs, ClearTool, Override, RunCount:
		return a.Role == Manager
	}
	return false
}
