// Package bag writes and checks one ZIP that holds one BagIt 1.0 bag (RFC 8493)
// hashed with SHA-256. The bag is a folder. Its payload is what lies under
// data/; everything else is a tag file. A manifest lists payload with its
// hashes, the tag manifest lists tag files. The fingerprint of a bag is the
// SHA-256 of its tag manifest: it covers every byte but its own.
//
// Files stand in a fixed order: payload by path, bytewise, then tag files by
// path, the tag manifest last. Times come from Bagging-Date. So the same content
// gives the same bytes, and nothing is held in memory but paths and hashes.
package bag

import (
	"strings"

	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/pattern"
)

// Label is one line of bag-info.txt.
type Label struct{ Name, Value string }

// Info says what a bag is of. Date is Bagging-Date; Payload-Oxum is the writer's
// to add.
type Info struct {
	Name   string // of the folder: letters, digits, dots, hyphens, underscores
	Date   dates.Date
	Labels []Label // in their order, before Payload-Oxum; Bagging-Date among them where it is wanted
}

// Names of the tag files that the standard knows.
const (
	bagitFile  = "bagit.txt"
	infoFile   = "bag-info.txt"
	manifest   = "manifest-sha256.txt"
	tagFile    = "tagmanifest-sha256.txt"
	payloadDir = "data/"

	// StampFile is a time stamp over the tag manifest, AnchorStampFile is one over an
	// older checkpoint in the bag.
	StampFile       = "proof/tagmanifest.tsr"
	AnchorStampFile = "proof/anchor.tsr"
)

// Unlisted says of a tag file that the tag manifest does not list it: time stamps, which
// hold by their own signatures. What a bag is fixed to does not hang on whether an
// authority could be reached when it was written; so whoever checks it says of each
// whether it is there.
func Unlisted(path string) bool { return path == StampFile || path == AnchorStampFile }

// declaration is the whole of bagit.txt (RFC 8493 section 2.1.1).
const declaration = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"

var plainPath = pattern.Late(`^[A-Za-z0-9_-][A-Za-z0-9._-]*(/[A-Za-z0-9_-][A-Za-z0-9._-]*)*$`)

// maxPath is the longest path of a file in a bag, in bytes.
const maxPath = 200

// checkPath takes plain names only, on which BagIt, coreutils and every file
// system agree: no percent sign, backslash, space, leading dot, "..", "~" or
// drive letter can be written with them.
func checkPath(path string) error {
	if len(path) > maxPath || !plainPath().MatchString(path) {
		return fault.New(fault.Invalid, "%.80q is not a plain path within a bag", path).
			WithHint("letters, digits, dots, hyphens and underscores, with / between folders")
	}
	return nil
}

func isPayload(path string) bool { return strings.HasPrefix(path, payloadDir) }
