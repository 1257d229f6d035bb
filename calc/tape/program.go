package tape

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// BlockSize is the number of cases that one operation handles at a time:
// enough to make the cost of choosing the operation small, few enough that
// the blocks of a model stay in the fastest cache.
const BlockSize = 128

// Once runs the whole tape for a single case: the block of one. set puts
// other values in the place of givens.
func (t *Tape) Once(set map[Register]float64) []float64 {
	values := make([]float64, len(t.Ops))
	t.rerun(values, 0, set)
	return values
}

// Continue is Once for a tape of which the first operations have been run
// already; base holds their values.
func (t *Tape) Continue(base []float64) []float64 {
	values := make([]float64, len(t.Ops))
	t.rerun(values, copy(values, base), nil)
	return values
}

// rerun computes the operations from number from on.
func (t *Tape) rerun(values []float64, from int, set map[Register]float64) {
	var k kernel
	block := func(r Register) []float64 { return values[r : r+1] }
	for i := from; i < len(t.Ops); i++ {
		o := &t.Ops[i]
		if v, ok := set[Register(i)]; ok {
			values[i] = v
			continue
		}
		k.bind(o, block, values[i:i+1])
		k.run(1)
	}
}

// Program is the part of a tape that a run over many cases needs: the
// operations between what varies and what is asked. All else is constant over
// the run and computed once.
type Program struct {
	tape    *Tape
	steps   []step
	slots   int     // blocks that a worker needs
	fixed   []fixed // blocks that hold a constant
	inputs  []int32 // the slots to fill before each block
	outputs []int32 // the slots to read after it, -1 for none
	slot    []int32 // of each register
}

// step is one operation with its result's slot.
type step struct {
	op  Register
	out int32
}

type fixed struct {
	slot  int32
	value float64
}

// NewProgram plans a run in which the inputs vary and the outputs are asked.
// base holds the value of every operation in the base case.
func NewProgram(t *Tape, inputs, outputs []Register, base []float64) *Program {
	p := &Program{tape: t}
	needed := t.Needed(outputs)
	varies := make([]bool, len(t.Ops))
	slot := make([]int32, len(t.Ops))
	for i := range slot {
		slot[i] = -1
	}
	for _, r := range inputs {
		varies[r] = true
		if slot[r] < 0 {
			slot[r] = p.newSlot()
		}
		p.inputs = append(p.inputs, slot[r])
	}
	var list []Register
	var run []Register
	lastUse := make([]int32, len(t.Ops))
	for i := range t.Ops {
		if !needed[i] || varies[i] {
			continue
		}
		list = t.Ops[i].Operands(list[:0])
		for _, r := range list {
			varies[i] = varies[i] || varies[r]
		}
		if varies[i] {
			for _, r := range list {
				lastUse[r] = int32(i)
			}
			run = append(run, Register(i))
		}
	}
	for _, r := range append(inputs[:len(inputs):len(inputs)], outputs...) {
		if r != None {
			lastUse[r] = int32(len(t.Ops)) // stays to the end of the block
		}
	}
	place := func(r Register) {
		if slot[r] < 0 { // constant over the run
			slot[r] = p.newSlot()
			p.fixed = append(p.fixed, fixed{slot[r], base[r]})
		}
	}
	var free []int32
	for _, i := range run {
		list = t.Ops[i].Operands(list[:0])
		for _, r := range list {
			place(r)
		}
		if len(free) > 0 {
			slot[i], free = free[len(free)-1], free[:len(free)-1]
		} else {
			slot[i] = p.newSlot()
		}
		p.steps = append(p.steps, step{i, slot[i]})
		for j, r := range list {
			if varies[r] && lastUse[r] == int32(i) && !seen(list[:j], r) {
				free = append(free, slot[r])
			}
		}
		if lastUse[i] == 0 { // nothing reads it: an output is marked above
			free = append(free, slot[i])
		}
	}
	for _, r := range outputs {
		if r == None {
			p.outputs = append(p.outputs, -1)
			continue
		}
		place(r)
		p.outputs = append(p.outputs, slot[r])
	}
	p.slot = slot
	return p
}

func (p *Program) newSlot() int32 {
	p.slots++
	return int32(p.slots - 1)
}

func seen(list []Register, r Register) bool {
	for _, x := range list {
		if x == r {
			return true
		}
	}
	return false
}

// Block is a run of consecutive cases, as a worker sees it. The slices are
// the worker's own and are used again for its next block.
type Block struct {
	First, N int
	Worker   int         // which of the workers runs it, from 0
	In       [][]float64 // to fill: one slice per input, N long
	Out      [][]float64 // the results: one slice per output, N long, nil for none
}

// Worker is a program with memory to run in.
type Worker struct {
	kernels []kernel
	block   Block
	in, out [][]float64
}

// NewWorker makes a worker, with memory of its own, that runs one block at a time.
func (p *Program) NewWorker() *Worker {
	memory := make([]float64, p.slots*BlockSize)
	at := func(slot int32) []float64 {
		if slot < 0 {
			return nil
		}
		return memory[int(slot)*BlockSize : (int(slot)+1)*BlockSize : (int(slot)+1)*BlockSize]
	}
	for _, f := range p.fixed {
		for i, block := 0, at(f.slot); i < len(block); i++ {
			block[i] = f.value
		}
	}
	w := &Worker{kernels: make([]kernel, len(p.steps))}
	for i, s := range p.steps {
		w.kernels[i].bind(&p.tape.Ops[s.op], func(r Register) []float64 { return at(p.slot[r]) }, at(s.out))
	}
	for _, s := range p.inputs {
		w.in = append(w.in, at(s))
	}
	for _, s := range p.outputs {
		w.out = append(w.out, at(s))
	}
	w.block.In = make([][]float64, len(w.in))
	w.block.Out = make([][]float64, len(w.out))
	return w
}

// Run computes cases first to first+n-1.
func (w *Worker) Run(first, n int, fill func(*Block)) *Block {
	w.block.First, w.block.N = first, n
	for i := range w.in {
		w.block.In[i] = w.in[i][:n]
	}
	for i := range w.out {
		if w.out[i] != nil {
			w.block.Out[i] = w.out[i][:n]
		}
	}
	fill(&w.block)
	for i := range w.kernels {
		w.kernels[i].run(n)
	}
	return &w.block
}

// Run computes n cases on several workers (0: one per core). fill sets the
// inputs of a block, use takes its results; both are called from several
// goroutines, for different blocks, in no fixed order. It stops early when
// the context ends.
func (p *Program) Run(ctx context.Context, n, workers int, fill, use func(*Block)) error {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	blocks := (n + BlockSize - 1) / BlockSize
	var next atomic.Int64
	var wait sync.WaitGroup
	for number := range max(1, min(workers, blocks)) {
		wait.Go(func() {
			w := p.NewWorker()
			w.block.Worker = number
			for ctx.Err() == nil {
				b := int(next.Add(1)) - 1
				if b >= blocks {
					return
				}
				first := b * BlockSize
				use(w.Run(first, min(BlockSize, n-first), fill))
			}
		})
	}
	wait.Wait()
	return ctx.Err()
}
