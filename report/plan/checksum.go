package plan

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"

	"github.com/goccy/go-yaml"
)

// Checksum differs between plans that judge differently, so that results of another plan are
// recognised. Layout, comments and the file's name do not change it, nor does a later
// version's key that this plan does not use.
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
