package shop

import "time"

// Outbound says where state and alarms are published, and who is told.
type Outbound struct {
	MQTT     *MQTT // nil: nowhere
	Webhooks []*Webhook
	Mail     *Mail   // nil: nobody is written to
	Syslog   *Syslog // nil: nothing is logged elsewhere
	Quiet    *Quiet  // nil: everything is told at any hour
	Daily    Clock   // when each target hears that the watch is alive; 07:30 when not given
	Weekly   Weekly  // when each target hears of the week; Monday 07:30 when not given
	GiveUp   time.Duration
}

// Targets lists the names of those who are told, in the order in which they are shown. MQTT is not among them: it holds
// how things stand, and no letters.
func (o *Outbound) Targets() []string {
	var out []string
	for _, w := range o.Webhooks {
		out = append(out, w.Target())
	}
	if o.Mail != nil {
		out = append(out, MailTarget)
	}
	if o.Syslog != nil {
		out = append(out, SyslogTarget)
	}
	return out
}

// The names of the targets of which there is one.
const (
	MailTarget   = "mail"
	SyslogTarget = "syslog"
)

// MQTT is a broker (OASIS MQTT 3.1.1) to publish to and to read from.
type MQTT struct {
	Broker       string // tcp://host:port or ssl://host:port
	Prefix       string // first level of every topic; "ductward" when not given
	ClientID     string
	Username     string
	PasswordFile string // read at start, never logged
	PasswordEnv  string // name of an environment variable that holds it instead
	CAFile       string
	Line         int
}

// Secret says where a secret is to be found; it never stands in the shop file.
type Secret struct {
	File string // that its owner alone may read
	Env  string // name of an environment variable
}

// Given tells whether there is a secret at all.
func (s Secret) Given() bool { return s.File != "" || s.Env != "" }

// Webhook is an address to which each letter is posted, signed.
type Webhook struct {
	Name   string
	URL    string // https://…, or http://… within the shop's network
	Secret Secret
	CAFile string
	Line   int
}

// Target is the name under which it is told.
func (w *Webhook) Target() string { return "webhook/" + w.Name }

// Encryption says how the line to a server is protected.
type Encryption int

// The ways of protecting a line.
const (
	StartTLS Encryption = iota // the line begins open and must change to TLS before anything is said
	TLS                        // from the first byte
	Open                       // only to this machine
)

// Mail is the owner's own mail server.
type Mail struct {
	Host       string
	Port       int
	Encryption Encryption
	Username   string // "": the server asks for none
	Password   Secret
	CAFile     string
	From       string
	To         []string
	Line       int
}

// SyslogLine is what carries messages to a collector of logs.
type SyslogLine string

// The lines of RFC 5426, RFC 6587 and RFC 5425.
const (
	SyslogUDP SyslogLine = "udp"
	SyslogTCP SyslogLine = "tcp"
	SyslogTLS SyslogLine = "tls"
)

// Syslog is a collector of logs (RFC 5424).
type Syslog struct {
	Line   SyslogLine
	Host   string
	Port   int
	CAFile string
	At     int // line in the file
}

// Clock is a time of day in minutes after midnight, by the shop's zone.
type Clock int

// Of returns the moment of that time on the day of t, in t's zone.
func (c Clock) Of(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), int(c)/60, int(c)%60, 0, 0, t.Location())
}

// Weekly is a time of day on one day of the week.
type Weekly struct {
	Day time.Weekday
	At  Clock
}

// Quiet is when nobody is to be told what can wait.
type Quiet struct {
	From, To Clock // over midnight where To is not after From
	Days     map[time.Weekday]bool
}

// Until returns the end of the quiet hours that hold at t by the zone of t, and whether any do.
func (q *Quiet) Until(t time.Time) (time.Time, bool) {
	if q == nil {
		return time.Time{}, false
	}
	end, quiet := t, false
	for range 8 { // a quiet night may end on a quiet day, which may end in a quiet night
		next, still := q.next(end)
		if !still {
			break
		}
		end, quiet = next, true
	}
	return end, quiet
}

// next returns when the quiet day or the quiet hours end in which t lies.
func (q *Quiet) next(t time.Time) (time.Time, bool) {
	if q.Days[t.Weekday()] {
		return time.Date(t.Year(), t.Month(), t.Day()+1, 0, 0, 0, 0, t.Location()), true
	}
	if q.From == q.To {
		return t, false
	}
	for _, back := range []int{1, 0} { // hours that began the day before may still hold
		day := t.AddDate(0, 0, -back)
		from, to := q.From.Of(day), q.To.Of(day)
		if !to.After(from) {
			to = q.To.Of(day.AddDate(0, 0, 1))
		}
		if !t.Before(from) && t.Before(to) {
			return to, true
		}
	}
	return t, false
}
