package deliver

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"ductward/internal/alarm"
	"ductward/internal/credential"
	"ductward/internal/finding"
	"ductward/internal/outbox"
	"ductward/internal/shop"
)

// The severities of RFC 5424, section 6.2.1, table 2, that are used.
const (
	severityAlert   = 1 // action must be taken immediately
	severityWarning = 4
	severityNotice  = 5
	severityInfo    = 6
	facilityDaemon  = 3 // table 1
)

// longestDatagram is what every receiver should take over UDP (RFC 5424, section 6.1).
const longestDatagram = 2048

func severity(l *outbox.Letter) int {
	switch {
	case l.Kind != outbox.Alarm:
		return severityInfo
	case !l.Event.Asks():
		return severityNotice
	case l.Priority == finding.ActToday:
		return severityAlert
	}
	return severityWarning
}

// logLine writes a letter as RFC 5424, section 6, has it: the letter's kind is its MSGID, its number the sequenceId.
func logLine(it *outbox.Item, host string) []byte {
	l := &it.Letter
	at := "-"
	if !l.At.IsZero() {
		at = l.At.UTC().Format("2006-01-02T15:04:05.000Z")
	}
	words := l.Text
	if l.Kind == outbox.Alarm {
		words = fmt.Sprintf("%s: %s: %s", l.Priority, l.Event, alarmWords(l.Alarm, l.Text))
	}
	seq := it.Number % (1 << 31)
	return fmt.Appendf(nil, "<%d>1 %s %s ductward - %s [origin software=\"ductward\"][meta sequenceId=\"%d\"] \ufeff%s: %s (%s)",
		facilityDaemon*8+severity(l), at, printable(host), printable(string(l.Kind)), max(seq, 1), oneLine(l.Shop), oneLine(words), oneLine(l.ID))
}

func alarmWords(a *alarm.Alarm, otherwise string) string {
	if a == nil {
		return otherwise
	}
	return a.Text
}

// printable is a name of the header: visible ASCII without spaces (RFC 5424, section 6).
func printable(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < '!' || r > '~' {
			return -1
		}
		return r
	}, s)
	if s == "" {
		return "-"
	}
	return s
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

func newSyslog(s *shop.Syslog) (*Target, error) {
	conf, err := credential.Authorities("the collector of logs", s.CAFile, s.Host)
	if err != nil {
		return nil, err
	}
	self, err := os.Hostname()
	if err != nil {
		self = "-"
	}
	address := net.JoinHostPort(s.Host, strconv.Itoa(s.Port))
	return &Target{Name: shop.SyslogTarget, Host: s.Host, send: func(ctx context.Context, it *outbox.Item) error {
		line := logLine(it, self)
		if s.Line == shop.SyslogUDP {
			return datagram(ctx, address, line)
		}
		return stream(ctx, address, s.Line, conf, line)
	}}, nil
}

// datagram sends one message over UDP (RFC 5426).
func datagram(ctx context.Context, address string, line []byte) error {
	for len(line) > longestDatagram || !utf8.Valid(line) {
		line = line[:min(len(line)-1, longestDatagram)]
	}
	c, err := new(net.Dialer).DialContext(ctx, "udp", address)
	if err != nil {
		return err
	}
	_, err = c.Write(line)
	return errors.Join(err, c.Close())
}

// stream sends one message over TCP (RFC 6587, octet counting) or TLS (RFC 5425), and closes the line in order: a receiver
// that was gone resets it, which is an error.
func stream(ctx context.Context, address string, kind shop.SyslogLine, conf *tls.Config, line []byte) error {
	var c net.Conn
	var err error
	if kind == shop.SyslogTLS {
		c, err = (&tls.Dialer{Config: conf}).DialContext(ctx, "tcp", address)
	} else {
		c, err = new(net.Dialer).DialContext(ctx, "tcp", address)
	}
	if err != nil {
		return err
	}
	defer func() { _ = c.Close() }() // what counts has been asked before
	if end, ok := ctx.Deadline(); ok {
		_ = c.SetDeadline(end) // a connection that cannot have one fails below
	}
	if _, err := c.Write(fmt.Appendf(nil, "%d %s", len(line), line)); err != nil {
		return err
	}
	half, ok := c.(interface{ CloseWrite() error })
	if !ok {
		return nil
	}
	if err := half.CloseWrite(); err != nil {
		return err
	}
	_ = c.SetReadDeadline(time.Now().Add(2 * time.Second))
	_, err = io.Copy(io.Discard, io.LimitReader(c, 4<<10))
	var late net.Error
	if errors.As(err, &late) && late.Timeout() {
		return nil // some keep the line open; it was written, and nobody has reset it
	}
	return err
}
