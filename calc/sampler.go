package calc

import (
	"math/rand/v2"
	"slices"
	"sync"

	"gonum.org/v1/gonum/mat"

	"rambook/calc/tape"
)

// sampler draws samples for some of the quantities that a probe judges. It runs
// only what these need, and keeps what the first stage draws: from case to case
// the same quantities lie near the same corners, and drawing normal numbers for
// all inputs anew took half of a sweep.
type sampler struct {
	inputs  []int  // of the probe's, those that the quantities depend on
	doubted []bool // by input of the probe: it has a spread
	root    *mat.TriDense
	first   [firstStage][][]float64 // by block of the first stage and input
	workers sync.Pool               // of *tape.Worker
}

// samplers are kept by what they draw and for what.
type samplers struct {
	known map[string]*sampler
	key   []byte
	lock  sync.Mutex
}

// mostSamplers bounds their memory where every case is near other corners.
const mostSamplers = 64

// sampler gives the sampler of some quantities for case number i of the block.
func (s *probedBlock) sampler(i int, asked []int) *sampler {
	doubted := make([]bool, len(s.inputs))
	for k, u := range s.u {
		doubted[k] = u != nil && u[i] > 0
	}
	all := &s.samples
	all.lock.Lock()
	defer all.lock.Unlock()
	all.key = all.key[:0]
	for _, yes := range doubted {
		all.key = append(all.key, map[bool]byte{true: 1}[yes])
	}
	for _, k := range asked {
		all.key = append(all.key, byte(k), byte(k>>8), byte(k>>16))
	}
	if known := all.known[string(all.key)]; known != nil {
		return known
	}
	made := s.newSampler(doubted, asked)
	if all.known == nil {
		all.known = map[string]*sampler{}
	}
	if len(all.known) < mostSamplers {
		all.known[string(all.key)] = made
	}
	return made
}

func (p *probe) newSampler(doubted []bool, asked []int) *sampler {
	d := &sampler{doubted: doubted, root: p.root}
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
	d.workers.New = func() any { return program.NewWorker(tape.BlockSize) }
	for block := range d.first {
		d.first[block] = d.draw(block)
	}
	return d
}

// drawn gives the errors of a block of samples by input, in units of their
// standard uncertainties.
func (d *sampler) drawn(block int) [][]float64 {
	if block < len(d.first) {
		return d.first[block]
	}
	return d.draw(block)
}

// draw draws all errors of the probe, whoever needs them, so that a sample is the
// same sample for every quantity.
func (d *sampler) draw(block int) [][]float64 {
	g := rand.New(rand.NewPCG(probeSeed, uint64(block)+1))
	all := make([][]float64, len(d.doubted))
	memory := make([]float64, len(all)*tape.BlockSize)
	for k, doubted := range d.doubted {
		all[k], memory = memory[:tape.BlockSize:tape.BlockSize], memory[tape.BlockSize:]
		for n := range all[k] {
			if doubted {
				all[k][n] = g.NormFloat64()
			}
		}
	}
	correlate(d.root, all)
	kept := make([][]float64, len(d.inputs))
	for n, k := range d.inputs {
		kept[n] = slices.Clone(all[k]) // a sampler that is kept holds no more than it needs
	}
	return kept
}
