package segment

import "time"

// progress passes on how far a segmentation has come, in hundredths, at most
// ten times a second and never backward.
type progress struct {
	f    func(done, total int)
	said int
	last time.Time
}

// at tells that the share of the work is done.
func (p *progress) at(share float64) {
	done := int(share * progressTotal)
	if p.f == nil || done <= p.said || time.Since(p.last) < time.Second/10 {
		return
	}
	p.said, p.last = done, time.Now()
	p.f(done, progressTotal)
}

// done tells that all is done.
func (p *progress) done() {
	if p.f != nil {
		p.f(progressTotal, progressTotal)
	}
}
