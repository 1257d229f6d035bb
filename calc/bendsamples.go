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
		outputs = append(outputs, p.judged[k].sampledAt(true)...)
	}
	needed := p.model.tape.Needed(outputs)
	var inputs []tape.Register
	for k, r := range p.inputs {
		if needed[r] {
			d.inputs, inputs = append(d.inputs, k), append(inputs, r)
		}
	}
	program := tape.NewProgram(p.model.tape, inputs, outputs, p.base)
	d.workers.New = func() *tape.Worker { return program.NewWorker(tape.BlockSize) }
	return d
}

// draw gives the errors of a block of samples of case number i, by input of the
// probe, in units of their standard uncertainties. All are drawn, whoever needs
// them, so that a sample is the same sample for every quantity. They are to be read
// only.
func (s *probedBlock) draw(i, block int) [][]float64 {
	doubted := 0
	all := make([][]float64, len(s.u))
	for _, u := range s.u {
		if u != nil && u[i] > 0 {
			doubted++
		}
	}
	drawn := normals.block(block, doubted)
	for k, u := range s.u {
		if u != nil && u[i] > 0 {
			all[k], drawn = drawn[:tape.BlockSize], drawn[tape.BlockSize:]
		} else {
			all[k] = zeros[:]
		}
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

// normals are the standard normal numbers that probes draw, by block of samples.
// They are the same for every case of every notebook, since the seed is, and are
// kept up to the second stage: to draw them anew took a tenth of a check of many
// notebooks and a third of a sweep.
var normals normalNumbers

type normalNumbers struct {
	lock   sync.Mutex
	blocks [secondStage]struct {
		source *rand.Rand
		drawn  []float64
	}
}

// block gives the numbers of a block for so many inputs.
func (n *normalNumbers) block(number, inputs int) []float64 {
	if number >= len(n.blocks) {
		return drawNormal(sourceOf(number), nil, inputs)
	}
	n.lock.Lock()
	defer n.lock.Unlock()
	b := &n.blocks[number]
	if b.source == nil {
		b.source = sourceOf(number)
	}
	b.drawn = drawNormal(b.source, b.drawn, inputs)
	return b.drawn
}

func sourceOf(block int) *rand.Rand { return rand.New(rand.NewPCG(probeSeed, uint64(block)+1)) }

// drawNormal appends what is missing for so many inputs.
func drawNormal(source *rand.Rand, drawn []float64, inputs int) []float64 {
	if more := inputs*tape.BlockSize - len(drawn); more > 0 {
		drawn = slices.Grow(drawn, more)
		for range more {
			drawn = append(drawn, source.NormFloat64())
		}
	}
	return drawn
}
