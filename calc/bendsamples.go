package calc

import (
	"math/rand/v2"
	"slices"
	"sync"

	"rambook/calc/tape"
)

// sampler draws samples for some of the quantities that a probe judges, and runs
// only what these need.
type sampler struct {
	inputs  []int // of the probe's, those that the quantities depend on
	workers tape.Spare[*tape.Worker]
}

// samplers are kept by what they are for: from case to case the same quantities
// lie near the same corners.
type samplers struct {
	known map[string]*sampler
	key   []byte
	lock  sync.Mutex
}

// mostSamplers bounds their memory where every case is near other corners.
const mostSamplers = 64

// sampler gives the sampler of some quantities.
func (p *probe) sampler(asked []int) *sampler {
	all := &p.samples
	all.lock.Lock()
	defer all.lock.Unlock()
	all.key = all.key[:0]
	for _, k := range asked {
		all.key = append(all.key, byte(k), byte(k>>8), byte(k>>16))
	}
	if known := all.known[string(all.key)]; known != nil {
		return known
	}
	made := p.newSampler(asked)
	if all.known == nil {
		all.known = map[string]*sampler{}
	}
	if len(all.known) < mostSamplers {
		all.known[string(all.key)] = made
	}
	return made
}

func (p *probe) newSampler(asked []int) *sampler {
	d := &sampler{}
	var outputs []tape.Register
	for _, k := range asked {
		at := p.judged[k].sampledAt()
		outputs = append(outputs, at[:]...)
	}
	needed := p.model.tape.Needed(outputs)
	var inputs []tape.Register
	for k, r := range p.inputs {
		if needed[r] {
			d.inputs, inputs = append(d.inputs, k), append(inputs, r)
		}
	}
	program := tape.NewProgram(p.model.tape, inputs, outputs, p.base).Around()
	d.workers.New = func() *tape.Worker { return program.NewWorker(tape.BlockSize) }
	return d
}

// draw gives the errors of a block of samples of case number i, by input of the
// probe, in units of their standard uncertainties: of the inputs that are asked for, or
// of all where errors are correlated. An input has the same numbers for every quantity,
// so that a sample is the same sample for all of them. They are to be read only.
func (s *probedBlock) draw(i, block int, asked []int) [][]float64 {
	all := make([][]float64, len(s.u))
	doubted := 0 // inputs have their numbers in the order of those with a spread
	for k, u := range s.u {
		all[k] = zeros[:]
		if u == nil || !(u[i] > 0) {
			continue
		}
		if _, found := slices.BinarySearch(asked, k); found || s.root != nil {
			all[k] = normals.of(block, doubted)
		}
		doubted++
	}
	if s.root != nil {
		for k := range all {
			all[k] = slices.Clone(all[k])
		}
		correlate(s.root, all)
	}
	return all
}

var zeros [tape.BlockSize]float64

// normals are the standard normal numbers that probes draw, by block of samples and
// input. They are the same for every case of every notebook, since the seed is, and are
// kept up to the second stage: to draw them anew took a tenth of a check of many
// notebooks and a third of a sweep.
var normals normalNumbers

type normalNumbers struct {
	lock   sync.Mutex
	blocks [secondStage][][]float64
}

// of gives the numbers of a block for an input, by its place among those with a spread.
func (n *normalNumbers) of(block, input int) []float64 {
	if block >= len(n.blocks) {
		return drawNormal(block, input)
	}
	n.lock.Lock()
	defer n.lock.Unlock()
	b := &n.blocks[block]
	if more := input + 1 - len(*b); more > 0 {
		*b = append(*b, make([][]float64, more)...)
	}
	if (*b)[input] == nil {
		(*b)[input] = drawNormal(block, input)
	}
	return (*b)[input]
}

func drawNormal(block, input int) []float64 {
	source := rand.New(rand.NewPCG(probeSeed+uint64(input), uint64(block)+1))
	drawn := make([]float64, tape.BlockSize)
	for i := range drawn {
		drawn[i] = source.NormFloat64()
	}
	return drawn
}
