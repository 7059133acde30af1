package watch

import (
	"crypto/sha256"
	"fmt"

	"ductward/internal/checkpoint"
	"ductward/internal/estimate"
	"ductward/internal/steady"
)

// kept is what a checkpoint holds.
type kept struct {
	Shop  [sha256.Size]byte // of its file
	First *past
}

// past is what the runs and the journal have told about one collector, and behind it that of the next one. What its
// readings have told since its last run is no part of it, nor what the sources have told of themselves.
type past struct {
	Collector string
	Estimate  *estimate.Estimator
	Zeros     map[string]steady.Zeroing
	Contacts  map[string]steady.Told
	Noise     map[string]float64
	Next      *past
}

// Checkpoint returns what the watch has gathered from runs and journal, for Resume. The same runs and entries give the
// same bytes, however they came.
func (w *Watch) Checkpoint() ([]byte, error) {
	return checkpoint.Write(w.kept(), w.fixed())
}

// Resume puts back what Checkpoint returned, in a watch of the same shop that has seen nothing yet. It is then as if
// it had been told the runs and entries by Run and Entry. After an error the watch is of no use.
func (w *Watch) Resume(data []byte) error {
	k := w.kept()
	ours := k.Shop
	if err := checkpoint.Read(data, k, w.fixed()); err != nil {
		return err
	}
	if k.Shop != ours {
		return fmt.Errorf("%w: it is of another shop file", checkpoint.ErrDamaged)
	}
	for c, i := k.First, 0; c != nil; c, i = c.Next, i+1 {
		p := w.parts[i]
		p.folder.SetZeros(c.Zeros)
		p.folder.SetTold(c.Contacts)
		p.health.setNoise(c.Noise)
		p.follow()
	}
	return nil
}

// kept returns what is to be kept. Its estimators are those of the watch, so that reading into it fills them.
func (w *Watch) kept() *kept {
	k := &kept{Shop: sha256.Sum256(w.shop.Raw)}
	for i := len(w.parts) - 1; i >= 0; i-- {
		p := w.parts[i]
		k.First = &past{p.collector.Name, p.estimate, p.folder.Zeros(), p.folder.Told(), p.health.noise(), k.First}
	}
	return k
}

// fixed is what the state points at and does not own: the shop as its file has it.
func (w *Watch) fixed() *checkpoint.Fixed { return checkpoint.NewFixed(w.shop) }
