package cores

import (
	"unsafe"

	"golang.org/x/sys/unix"
)

const (
	heapGrowth  = 4 << 20   // bytes by which the heap grows, up to a multiple of it
	pagesAtOnce = 256 << 10 // bytes for which the heap of others cannot grow meanwhile
)

// large is too many bytes to lie among small things, so that they come from where the
// heap has not been yet. A variable keeps them off the stack.
var large = 40 << 10

// LayPages has the system lay pages under the memory that the heap hands out next, on
// another core. Otherwise each page is laid at its first touch, which stops whoever
// computes, and that is a quarter of all that a check does. It is for moments when a
// core is idle. Nothing comes of it on a system that has no such request.
func LayPages() {
	next := uintptr(unsafe.Pointer(unsafe.SliceData(make([]byte, large))))
	next &^= uintptr(unix.Getpagesize() - 1)
	go func() {
		for end := (next + heapGrowth) &^ (heapGrowth - 1); next < end; next += pagesAtOnce {
			_, _, err := unix.Syscall(unix.SYS_MADVISE, next, min(pagesAtOnce, end-next), unix.MADV_POPULATE_WRITE)
			if err != 0 {
				return
			}
		}
	}()
}
