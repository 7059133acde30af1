package daemon

import "time"

// keepHouse does what is due at mono.
func (f *fold) keepHouse(mono time.Duration) {
	f.place(mono)
	if mono >= f.nextLook {
		f.nextLook = mono + f.pace.snapshot
		f.enterGaps()
		f.look(mono)
	}
	if !f.resting(mono) { // a fan that has started shortens what is left of a long wait
		f.nextCommit = min(f.nextCommit, f.lastCommit+f.pace.commitBusy)
	}
	if mono >= f.nextCommit {
		_ = f.commit(mono) // logged there
	}
	f.checkpoint(mono)
	if f.out != nil {
		f.out.tick(mono, f.snapshot.Load())
	}
}

// commit brings what has gathered to the card.
func (f *fold) commit(mono time.Duration) error {
	f.lastCommit, f.nextCommit = mono, mono+f.pace.commitIdle
	if !f.resting(mono) {
		f.nextCommit = mono + f.pace.commitBusy
	}
	err := f.committing.see(mono, f.store.Commit())
	if err == nil && f.shopDue {
		_ = f.putShop(mono) // it has been told, and is tried again
	}
	return err
}

// putShop stores the shop file with the moment from which it holds.
func (f *fold) putShop(mono time.Duration) error {
	err := f.keeping.see(mono, f.store.PutShop(f.shop.Raw, f.shopFrom))
	f.shopDue = err != nil
	return err
}

// resting tells whether all fans stand.
func (f *fold) resting(mono time.Duration) bool {
	for _, fan := range f.fans {
		if !fan.resting(mono) {
			return false
		}
	}
	return true
}
