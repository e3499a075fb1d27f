package plan

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"

	"github.com/goccy/go-yaml"
)

// Checksum tells plans apart that judge differently, so that results of another plan are
// not taken for this one's. Layout, comments and the file's name do not count, nor does what
// a later version adds and this plan does not use.
func (p *Plan) Checksum() (string, error) {
	content := *p
	content.File = ""
	b, err := yaml.MarshalWithOptions(&content, yaml.OmitZero(), yaml.OmitEmpty())
	if err != nil {
		return "", fmt.Errorf("plan: %w", err)
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:8]), nil
}
