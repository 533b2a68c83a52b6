package packets

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"pawl/model/claims"
	"pawl/model/ledger"
	"pawl/model/markings"
	"pawl/model/proofs"
	"pawl/model/serials"
)

// plain is a value as it is compared: nothing, no text and no number are alike, as images
// leave them out.
func plain(value any) string {
	if p, is := value.(*int64); is {
		if p == nil {
			return ""
		}
		value = *p
	}
	if value == nil || value == int64(0) {
		return ""
	}
	return fmt.Sprint(value)
}

// holds compares what is said with the columns of an image.
func (c *Checked) holds(at, of string, said map[string]any, image ledger.Image) {
	for _, column := range slices.Sorted(maps.Keys(said)) {
		if says, is := plain(said[column]), plain(image[column]); says != is {
			c.Problem("%s says of the %s's %s %.60q, its last line in the ledger %.60q", at, of, column, says, is)
		}
	}
}

// tool holds all that a line says of its tool, its money too, to the tool's image.
func (c *Checked) tool(l claims.Line, image ledger.Image) {
	said := map[string]any{"serial": l.Serial, "kind": l.Kind, "maker": l.Maker, "model": l.Model, "owner": l.OwnerID, "lot": l.Lot, "notes": l.Notes,
		"created": int64(l.Registered), "bought": l.Bought, "seller": l.Seller}
	money := map[string]any{"price": l.Price, "tax": l.Tax, "owed": l.Owed, "owed_to": l.OwedTo, "owed_on": l.OwedOn}
	if plain(image["currency"]) == c.Currency {
		maps.Copy(said, money)
	} else {
		for _, column := range slices.Sorted(maps.Keys(money)) {
			if says := plain(money[column]); says != "" {
				c.Problem("line %d says of the tool's %s %.60q, and the ledger has none in %s", l.Line, column, says, c.Currency)
			}
		}
	}
	c.holds(fmt.Sprintf("line %d", l.Line), "tool", said, image)
}

// loss holds what is said of the loss, and its photos and papers, to their lines.
func (c *Checked) loss() {
	if c.Loss == nil {
		return
	}
	l := c.Loss
	image := c.image("loss", l.ID)
	if image == nil {
		c.Problem("nothing shows what the statement says of the loss %.40q", l.ID)
	} else {
		c.Records++
		c.holds("the statement", "loss", map[string]any{"kind": l.Kind, "found": int64(l.Found), "secure": int64(l.Secure), "spot": l.Spot, "entered": l.Entered, "locks": l.Locks, "alarm": l.Alarm,
			"cameras": l.Cameras, "keys": l.Keys, "closed": l.Closed, "opened": l.Opened, "agency": l.Agency, "report": l.Report, "officer": l.Officer, "reported": l.Reported}, image)
	}
	for _, f := range c.Statement.Files {
		if image := c.image("evidence", f.Record); image == nil {
			c.unrecorded("the statement", f)
		} else {
			c.Records++
			c.copied("the statement", f)
			c.holds("the statement", "file "+f.Ref, map[string]any{"sha256": f.SHA256, "kind": f.Kind, "received_at": int64(f.Received), "loss": l.ID}, image)
		}
	}
}

// follows holds what a line says that follows from other things that it says, or from the
// markings of its tool: what registers of stolen property search, and whether the tool was
// recorded after the loss.
func (c *Checked) follows(l claims.Line, h hung) {
	if key := serials.Key(l.Serial); l.SerialKey != key {
		c.Problem("line %d says that the serial number is searched as %.60q; %.60q is searched as %.60q", l.Line, l.SerialKey, l.Serial, key)
	}
	if after := c.Loss != nil && c.Loss.Found != 0 && l.Registered > c.Loss.Found; l.AfterLoss != after {
		c.Problem("line %d says otherwise than its dates whether the tool was recorded after the loss", l.Line)
	}
	for _, n := range l.Numbers {
		if r, shown := c.Proven.Records[proofs.RecordID{Noun: "number", ID: strings.ReplaceAll(n, "-", "")}]; !shown || !strings.Contains(string(r.After), `"`+l.Tool+`"`) {
			c.Problem("line %d: nothing shows that %.20q is a number of the tool %.40q", l.Line, n, l.Tool)
		}
	}
	standing := slices.DeleteFunc(slices.Clone(h.markings[l.Tool]), func(m markings.Marking) bool { return m.Shows != markings.OwnersNumber || m.Ended != "" })
	if len(standing) == 0 {
		standing = []markings.Marking{{}}
	}
	if !slices.ContainsFunc(standing, func(m markings.Marking) bool { return m.Code == l.OwnersNo && m.Spot == l.OwnersNoAt }) {
		c.Problem("line %d says that the owner's number is %.40q, and no marking of the tool shows that", l.Line, l.OwnersNo)
	}
}

// listed holds what a line says of the loss of its tool to the line of the loss's list.
func (c *Checked) listed(l claims.Line, h hung) {
	if c.Loss == nil {
		return
	}
	at := slices.IndexFunc(h.lines[l.Tool], func(i ledger.Image) bool {
		return plain(i["loss"]) == c.Loss.ID && plain(i["line"]) == fmt.Sprint(l.Line) && i["withdrawn"] == nil
	})
	if at < 0 {
		c.Problem("line %d: nothing shows that the tool %.40q is on that line of the loss %.40q", l.Line, l.Tool, c.Loss.ID)
		return
	}
	c.Records++
	image := h.lines[l.Tool][at]
	said := map[string]any{"confirmed": int64(l.Confirmed), "recovered": l.Recovered, "recovered_by": l.RecoveredBy, "recovered_in": l.RecoveredIn,
		"last_seen": int64(l.LastSeen), "seen_how": l.SeenHow, "left_behind": l.LeftBehind}
	if plain(image["supplement"]) != "" {
		said["supplement"] = l.Supplement
	}
	if plain(image["condition"]) != "" { // else it is from a return
		said["condition"] = l.Condition
	}
	c.holds(fmt.Sprintf("line %d", l.Line), "loss line", said, image)
}
