package tape

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// windowPerWorker is how many blocks may be in flight for each worker: enough
// that no worker waits for a slower one, few enough to cost no memory.
const windowPerWorker = 8

// RunOrdered computes n cases of a program as run does, and hands the blocks
// to emit in the order of the cases. A block has a T of its own while it is in
// flight: fill and use work on it in any goroutine, emit gets it in the calling
// one. There is a fixed number of them, so memory does not grow with n. It
// stops early when the context ends or emit returns an error.
func RunOrdered[T any](ctx context.Context, p *Program, n, workers int, newT func() T,
	fill, use func(*Block, T), emit func(T) error) error {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	blocks := (n + BlockSize - 1) / BlockSize
	window := windowPerWorker * workers
	free := make(chan T, window)
	for range window {
		free <- newT()
	}
	// A worker takes a T before it takes the number of a block. So at most
	// window numbers are out at a time, and no two of them share a slot.
	done := make([]chan T, window)
	for i := range done {
		done[i] = make(chan T, 1)
	}
	ctx, stop := context.WithCancel(ctx)
	var next atomic.Int64
	var wait sync.WaitGroup
	for range workers {
		wait.Go(func() {
			w := p.NewWorker()
			var t T
			fillOwn := func(b *Block) { fill(b, t) }
			for {
				select {
				case <-ctx.Done():
					return
				case t = <-free:
				}
				b := int(next.Add(1)) - 1
				if b >= blocks {
					return
				}
				first := b * BlockSize
				use(w.Run(first, min(BlockSize, n-first), fillOwn), t)
				done[b%window] <- t
			}
		})
	}
	defer wait.Wait()
	defer stop()
	for b := range blocks {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case t := <-done[b%window]:
			if err := emit(t); err != nil {
				return err
			}
			free <- t
		}
	}
	return ctx.Err()
}
