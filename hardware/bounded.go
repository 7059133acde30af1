package hardware

import (
	"errors"
	"fmt"
	"sync"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

// errLocked is the cause of a BusLocked fault.
var errLocked = errors.New("the transfer did not end in time")

// largestTransfer is more than any chip here writes or answers in one transfer, in bytes.
const largestTransfer = 64

// Bounded is an I²C bus whose transfers end in a stated time. The transfer itself runs in a goroutine of its own,
// since a system call that hangs in the kernel can be left but not stopped; until it returns, every further transfer
// fails at once. It costs two goroutine switches a transfer, about a microsecond, where a transfer of nine bytes takes
// a millisecond at 100 kHz.
//
// A transfer works on buffers of the bus and never on the caller's, so that one that ends late writes over nothing.
type Bounded struct {
	bus   i2c.Bus
	limit time.Duration

	mu     sync.Mutex
	timer  *time.Timer
	asked  chan transfer
	done   chan error
	out    [largestTransfer]byte // owned by the worker between asked and done
	in     [largestTransfer]byte // likewise
	hung   bool                  // a transfer was left behind and has not come back
	closed bool
}

type transfer struct {
	addr        uint16
	write, read int
}

// NewBounded returns a bus whose transfers fail after limit. Close it, or its goroutine stays.
func NewBounded(bus i2c.Bus, limit time.Duration) *Bounded {
	b := &Bounded{bus: bus, limit: limit, timer: time.NewTimer(limit), asked: make(chan transfer), done: make(chan error, 1)}
	b.timer.Stop()
	go b.work()
	return b
}

func (b *Bounded) work() {
	for t := range b.asked {
		b.done <- b.bus.Tx(t.addr, b.out[:t.write], b.in[:t.read])
	}
}

// String names the bus below.
func (b *Bounded) String() string { return b.bus.String() }

// SetSpeed sets the speed of the bus below.
func (b *Bounded) SetSpeed(f physic.Frequency) error { return b.bus.SetSpeed(f) }

// Tx makes one transfer. It fails with an error that wraps the cause of a BusLocked fault when the transfer does not
// end in time, and while one that did not has not come back.
func (b *Bounded) Tx(addr uint16, w, r []byte) error {
	if len(w) > largestTransfer || len(r) > largestTransfer {
		return fmt.Errorf("i2c bus %s: a transfer of %d and %d bytes is over the limit of %d", b.bus, len(w), len(r), largestTransfer)
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if err := b.ready(); err != nil {
		return err
	}
	copy(b.out[:], w)
	b.asked <- transfer{addr, len(w), len(r)}
	b.timer.Reset(b.limit)
	select {
	case err := <-b.done:
		b.timer.Stop()
		if err == nil {
			copy(r, b.in[:len(r)])
		}
		return err
	case <-b.timer.C:
		b.hung = true
		return fmt.Errorf("i2c bus %s: %w (%v)", b.bus, errLocked, b.limit)
	}
}

// ready tells whether the worker can take a transfer.
func (b *Bounded) ready() error {
	if b.closed {
		return fmt.Errorf("i2c bus %s: closed", b.bus)
	}
	if !b.hung {
		return nil
	}
	select {
	case <-b.done: // it came back: its answer is too old to be anybody's
		b.hung = false
		return nil
	default:
		return fmt.Errorf("i2c bus %s: %w, and it still hangs", b.bus, errLocked)
	}
}

// Hanging tells whether a transfer that was left behind has not come back yet.
func (b *Bounded) Hanging() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.ready() != nil
}

// Close lets the worker end; it does not wait for a transfer that hangs, and it leaves the bus below open.
func (b *Bounded) Close() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if !b.closed {
		b.closed = true
		close(b.asked)
	}
	return nil
}
