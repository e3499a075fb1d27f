package forecast

import (
	"encoding/json"
	"fmt"
	"io"
)

// WriteJSON writes f as indented JSON.
func WriteJSON(w io.Writer, f *Forecast) error {
	b, err := json.MarshalIndent(f, "", "  ")
	if err != nil {
		return fmt.Errorf("forecast: %w", err)
	}
	_, err = w.Write(append(b, '\n'))
	return err
}
