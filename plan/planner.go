package plan

import (
	"sync"

	"thrum/lathe"
)

// Planner makes plans and remembers the lathes that it has read, for a program
// that plans many times on few lathes. The zero value is ready; it may be used by
// several goroutines. It gives the same plans as Make.
type Planner struct {
	mu     sync.Mutex
	lathes map[string]*lathe.Lathe // by the text of the file
}

// remembered is how many lathes a Planner keeps; then it starts afresh.
const remembered = 64

// Make is the function Make with the lathe's text read only once.
func (p *Planner) Make(r Request) (*Plan, error) {
	b, err := newBuilderWith(r, p.lathe)
	if err != nil {
		return nil, err
	}
	return b.make()
}

func (p *Planner) lathe(text string) (*lathe.Lathe, error) {
	p.mu.Lock()
	l, ok := p.lathes[text]
	p.mu.Unlock()
	if ok {
		return l, nil
	}
	l, err := readLathe(text)
	if err != nil {
		return nil, err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.lathes == nil || len(p.lathes) >= remembered {
		p.lathes = map[string]*lathe.Lathe{}
	}
	p.lathes[text] = l
	return l, nil
}

func readLathe(text string) (*lathe.Lathe, error) { return lathe.Parse("lathe", []byte(text)) }
