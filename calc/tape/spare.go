package tape

import "sync"

// Spare keeps what is used for one task after another, such as workers, for several
// goroutines. It goes with its owner, unlike a [sync.Pool], which the runtime holds
// for two more collections: with it the owner, and all that this one holds. That
// kept every notebook of a shop in memory.
type Spare[T any] struct {
	New  func() T // makes one where none is spare
	lock sync.Mutex
	list []T
}

// Get takes a spare one, or makes one.
func (s *Spare[T]) Get() T {
	s.lock.Lock()
	if last := len(s.list) - 1; last >= 0 {
		defer s.lock.Unlock()
		one := s.list[last]
		s.list = s.list[:last]
		return one
	}
	s.lock.Unlock()
	return s.New()
}

// Put gives one back.
func (s *Spare[T]) Put(one T) {
	s.lock.Lock()
	defer s.lock.Unlock()
	s.list = append(s.list, one)
}
