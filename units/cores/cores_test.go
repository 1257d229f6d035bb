package cores

import (
	"sync/atomic"
	"testing"
)

// TestEach: each number once, whatever there is of numbers and cores.
func TestEach(t *testing.T) {
	for _, n := range []int{0, 1, 2, 7, 1000} {
		for name, each := range map[string]func(int, func(int)){
			"Each":   Each,
			"EachOf": func(n int, do func(int)) { EachOf(n, 16, do) },
		} {
			calls := make([]atomic.Int32, n)
			each(n, func(i int) { calls[i].Add(1) })
			for i := range calls {
				if got := calls[i].Load(); got != 1 {
					t.Errorf("%s of %d: number %d is called %d times", name, n, i, got)
				}
			}
		}
	}
}
