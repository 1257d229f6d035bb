//go:build !linux

package cores

// LayPages does nothing where a system has no such request.
func LayPages() {}
