// Package program says which program made a result.
package program

import (
	"crypto/sha256"
	"encoding/hex"

	"evenlimb/queries"
	"evenlimb/seeds/reference"
)

// Release is the release this source belongs to.
const Release = "0.1.0"

// Version names the program for reports, the archive and the ledger: the
// release and a digest of the queries and code tables built into it. It takes
// nothing from version control, so that the same source gives the same bytes.
func Version() string {
	sum := sha256.Sum256([]byte(queries.Digest() + reference.Digest()))
	return Release + "+" + hex.EncodeToString(sum[:])[:12]
}
