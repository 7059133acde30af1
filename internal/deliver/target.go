package deliver

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"time"

	"ductward/internal/outbox"
	"ductward/internal/shop"
)

// limit is how long one attempt may take.
const limit = 30 * time.Second

// Target is where letters go.
type Target struct {
	Name string // as shop.Outbound.Targets has it
	Host string
	send func(context.Context, *outbox.Item) error
}

// Send makes one attempt. An error that wraps outbox.ErrRefused says that this letter will never be taken.
func (t *Target) Send(ctx context.Context, it *outbox.Item) error {
	ctx, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	if err := t.send(ctx, it); err != nil {
		return fmt.Errorf("%s at %s: %w", t.Name, t.Host, err)
	}
	return nil
}

// identity is a letter's identity in letters that every protocol takes: the same for the same letter, and for no other.
func identity(l *outbox.Letter) string {
	sum := sha256.Sum256([]byte(l.Shop + "\x00" + l.ID))
	return hex.EncodeToString(sum[:16])
}

// Targets reads the secrets that the shop file names, and returns its targets in order. It connects to nobody. The error
// names everything that is wrong.
func Targets(o *shop.Outbound) ([]*Target, error) {
	var out []*Target
	var errs []error
	add := func(t *Target, err error) {
		if err != nil {
			errs = append(errs, err)
			return
		}
		out = append(out, t)
	}
	for _, w := range o.Webhooks {
		add(newWebhook(w))
	}
	if o.Mail != nil {
		add(newMail(o.Mail))
	}
	if o.Syslog != nil {
		add(newSyslog(o.Syslog))
	}
	return out, errors.Join(errs...)
}
