package calc

import (
	"rambook/units"
)

// Histogram is how the samples of a quantity are spread out. Numbers are in the
// unit of the [Judged] that it belongs to.
type Histogram struct {
	From, Step   float64 // bin i goes from From + i·Step to From + (i+1)·Step
	Counts       []int
	Below, Above int // samples beyond the bins
}

// Samples is how many samples there are.
func (h *Histogram) Samples() int {
	n := h.Below + h.Above
	for _, c := range h.Counts {
		n += c
	}
	return n
}

// histogramBins is about how many bins a histogram has, and tailBeyond what part
// of the samples may lie beyond them at each end: single ones far out would leave
// no room for the others.
const (
	histogramBins = 24
	tailBeyond    = 0.0005
)

// histogram joins the bins of a tally, nil where all samples are alike.
func (t *tally) histogram(u units.Unit) *Histogram {
	if t.n == 0 || t.scale <= 0 {
		return nil
	}
	bin := func(x float64) int {
		return max(0, min(bins-1, int(((x-t.center)/t.scale+binReach)*(bins/(2*binReach)))))
	}
	first, last := bin(t.quantile(tailBeyond)), bin(t.quantile(1-tailBeyond))
	group := max(1, (last-first+histogramBins)/histogramBins)
	si := func(bin int) float64 { return t.center + (float64(bin)*(2*binReach/bins)-binReach)*t.scale }
	h := &Histogram{From: u.FromSI(si(first)), Step: spreadIn(u, si(first+group)-si(first)),
		Counts: make([]int, (last-first)/group+1)}
	for i, c := range t.counts {
		switch k := i - first; {
		case k < 0:
			h.Below += int(c)
		case k/group >= len(h.Counts):
			h.Above += int(c)
		default:
			h.Counts[k/group] += int(c)
		}
	}
	return h
}
