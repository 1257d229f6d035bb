package calc

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// blockSize is the number of cases that one operation handles at a time:
// enough to make the cost of choosing the operation small, few enough that
// the blocks of a model stay in the fastest cache.
const blockSize = 128

// once runs the whole tape for a single case: the block of one. set puts
// other values in the place of givens.
func (t *tape) once(set map[register]float64) []float64 {
	values := make([]float64, len(t.ops))
	t.rerun(values, 0, set)
	return values
}

// rerun computes the operations from number from on.
func (t *tape) rerun(values []float64, from int, set map[register]float64) {
	var k kernel
	block := func(r register) []float64 { return values[r : r+1] }
	for i := from; i < len(t.ops); i++ {
		o := &t.ops[i]
		if v, ok := set[register(i)]; ok {
			values[i] = v
			continue
		}
		k.bind(o, block, values[i:i+1])
		k.run(1)
	}
}

// program is the part of a tape that a run over many cases needs: the
// operations between what varies and what is asked. All else is constant over
// the run and computed once.
type program struct {
	tape    *tape
	steps   []step
	slots   int     // blocks that a worker needs
	fixed   []fixed // blocks that hold a constant
	inputs  []int32 // the slots to fill before each block
	outputs []int32 // the slots to read after it, -1 for none
	slot    []int32 // of each register
}

// step is one operation with its result's slot.
type step struct {
	op  register
	out int32
}

type fixed struct {
	slot  int32
	value float64
}

// newProgram plans a run in which the inputs vary and the outputs are asked.
// base holds the value of every operation in the base case.
func newProgram(t *tape, inputs, outputs []register, base []float64) *program {
	p := &program{tape: t}
	needed := t.needed(outputs)
	varies := make([]bool, len(t.ops))
	slot := make([]int32, len(t.ops))
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
	var list []register
	var run []register
	lastUse := make([]int32, len(t.ops))
	for i := range t.ops {
		if !needed[i] || varies[i] {
			continue
		}
		list = t.ops[i].operands(list[:0])
		for _, r := range list {
			varies[i] = varies[i] || varies[r]
		}
		if varies[i] {
			for _, r := range list {
				lastUse[r] = int32(i)
			}
			run = append(run, register(i))
		}
	}
	for _, r := range append(inputs[:len(inputs):len(inputs)], outputs...) {
		if r != none {
			lastUse[r] = int32(len(t.ops)) // stays to the end of the block
		}
	}
	place := func(r register) {
		if slot[r] < 0 { // constant over the run
			slot[r] = p.newSlot()
			p.fixed = append(p.fixed, fixed{slot[r], base[r]})
		}
	}
	var free []int32
	for _, i := range run {
		list = t.ops[i].operands(list[:0])
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
		if r == none {
			p.outputs = append(p.outputs, -1)
			continue
		}
		place(r)
		p.outputs = append(p.outputs, slot[r])
	}
	p.slot = slot
	return p
}

func (p *program) newSlot() int32 {
	p.slots++
	return int32(p.slots - 1)
}

func seen(list []register, r register) bool {
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

// worker is a program with memory to run in.
type worker struct {
	kernels []kernel
	block   Block
	in, out [][]float64
}

func (p *program) newWorker() *worker {
	memory := make([]float64, p.slots*blockSize)
	at := func(slot int32) []float64 {
		if slot < 0 {
			return nil
		}
		return memory[int(slot)*blockSize : (int(slot)+1)*blockSize : (int(slot)+1)*blockSize]
	}
	for _, f := range p.fixed {
		for i, block := 0, at(f.slot); i < len(block); i++ {
			block[i] = f.value
		}
	}
	w := &worker{kernels: make([]kernel, len(p.steps))}
	for i, s := range p.steps {
		w.kernels[i].bind(&p.tape.ops[s.op], func(r register) []float64 { return at(p.slot[r]) }, at(s.out))
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

// run computes cases first to first+n-1.
func (w *worker) run(first, n int, fill func(*Block)) *Block {
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

// run computes n cases on several workers (0: one per core). fill sets the
// inputs of a block, use takes its results; both are called from several
// goroutines, for different blocks, in no fixed order. It stops early when
// the context ends.
func (p *program) run(ctx context.Context, n, workers int, fill, use func(*Block)) error {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	blocks := (n + blockSize - 1) / blockSize
	var next atomic.Int64
	var wait sync.WaitGroup
	for number := range max(1, min(workers, blocks)) {
		wait.Go(func() {
			w := p.newWorker()
			w.block.Worker = number
			for ctx.Err() == nil {
				b := int(next.Add(1)) - 1
				if b >= blocks {
					return
				}
				first := b * blockSize
				use(w.run(first, min(blockSize, n-first), fill))
			}
		})
	}
	wait.Wait()
	return ctx.Err()
}
