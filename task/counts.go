package task

import "sync"

// counts are by kind.
type counts struct {
	mu sync.Mutex
	by map[string]*count
}

func (c *counts) of(kind string) *count {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.by == nil {
		c.by = map[string]*count{}
	}
	if c.by[kind] == nil {
		c.by[kind] = &count{}
	}
	return c.by[kind]
}
