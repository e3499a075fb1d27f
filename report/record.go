package report

// Record says by what and by whom a report was made. It has no date, so that one scan gives
// one report, byte by byte; Scan.SHA256 says of which file.
type Record struct {
	Tool     string `json:"tool,omitempty"`      // program and version that measured the scan
	JudgedBy string `json:"judged_by,omitempty"` // that judged it, where it is another
	Operator string `json:"operator,omitempty"`
	Revision string `json:"revision,omitempty"` // of the plan
}

// record lists what an inspection record needs beside the numbers.
func (b *viewer) record() {
	var text []string
	add := func(name, value string) {
		if value != "" {
			text = append(text, name+": "+value)
		}
	}
	add("SHA-256 of the scan's file", b.rep.Scan.SHA256)
	add("Plan", b.rep.Part)
	if r := b.rep.Record; r != nil {
		add("Revision of the plan", r.Revision)
		add("Measured by", r.Tool)
		add("Judged by", r.JudgedBy)
		add("Operator", r.Operator)
		b.detail("Inspection record", nil, text...)
	}
}
