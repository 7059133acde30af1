package shop

import (
	"fmt"
	"net"
	"net/mail"
	"net/url"
	"strconv"
	"strings"
	"time"
)

// What holds when the file does not say.
const (
	defaultDaily  = Clock(7*60 + 30)
	defaultGiveUp = 3 * 24 * time.Hour
)

// deliveries reads who is told, and when.
func (r *reader) deliveries(o *object, out *Outbound) {
	named := newRegister()
	for _, v := range o.entries("webhooks") {
		out.Webhooks = append(out.Webhooks, r.webhook(v, named))
	}
	if v := o.get("mail"); v != nil {
		out.Mail = r.mail(v)
	}
	if v := o.get("syslog"); v != nil {
		out.Syslog = r.syslog(v)
	}
	if v := o.get("quiet_hours"); v != nil {
		out.Quiet = r.quiet(v)
	}
	out.Daily = o.clock("daily", defaultDaily)
	out.Weekly = Weekly{Day: time.Monday, At: defaultDaily}
	if v := o.get("weekly"); v != nil {
		w := r.object(v, "outbound weekly", "")
		out.Weekly.Day = w.weekday("day", time.Monday)
		out.Weekly.At = w.clock("at", defaultDaily)
		w.close()
	}
	out.GiveUp = o.duration("give_up_after", giveUp, defaultGiveUp)
}

func (r *reader) webhook(v *value, named *register) *Webhook {
	o := r.object(v, "webhook", "webhook")
	w := &Webhook{Name: o.name("webhook", "office"), URL: o.word("url"), CAFile: o.word("ca_file"), Line: v.line}
	if w.Name != "" {
		named.add(o, o.get("webhook"), "webhook", w.Name, nil)
	}
	o.require("url", "url: https://HOST/PATH")
	if w.URL != "" {
		if why := badURL(w.URL); why != "" {
			o.wrong(o.get("url"), fmt.Sprintf("url %s %s", redacted(w.URL), why), "write https://HOST/PATH")
		} else if !strings.HasPrefix(w.URL, "https:") {
			o.warn(o.get("url").line, fmt.Sprintf("%s: the line to it is not encrypted", o.where), "write https:// unless it stays within the shop's own network")
		}
	}
	w.Secret = o.secret("secret")
	if !w.Secret.Given() {
		o.require("secret_file", "the file that holds the secret to sign with, as \"secret_file: /etc/ductward/webhook\"")
	}
	o.close()
	return w
}

// badURL tells what is wrong with a webhook's address, "" if nothing is.
func badURL(address string) string {
	u, err := url.Parse(address)
	switch {
	case err != nil || u.Hostname() == "":
		return "is not an address"
	case u.User != nil:
		return "holds a user or password: what is posted is signed instead"
	case u.Scheme != "https" && u.Scheme != "http":
		return "begins with neither https:// nor http://"
	case u.Fragment != "":
		return "has a # in it"
	}
	return ""
}

// secret reads where a secret is: NAME_file or NAME_env.
func (o *object) secret(name string) Secret {
	s := Secret{File: o.word(name + "_file"), Env: o.word(name + "_env")}
	if s.File != "" && s.Env != "" {
		o.wrong(o.get(name+"_env"), fmt.Sprintf("%s_file and %s_env are both given", name, name), "keep one of them")
	}
	return s
}

var encryptions = []string{"starttls", "tls", "none"}

func (r *reader) mail(v *value) *Mail {
	o := r.object(v, "outbound mail", "")
	m := &Mail{CAFile: o.word("ca_file"), Username: o.word("username"), Password: o.secret("password"), Line: v.line}
	m.Encryption = Encryption(max(o.oneOf("encryption", encryptions), 0))
	o.require("server", "server: mail.example.org:587")
	if s := o.get("server"); s != nil {
		port := "587"
		if m.Encryption == TLS {
			port = "465"
		}
		m.Host, m.Port = o.hostPort(s, "server", o.word("server"), port)
	}
	if m.Encryption == Open && m.Host != "" && !loopback(m.Host) {
		o.wrong(o.get("encryption"), fmt.Sprintf("the line to %q would not be encrypted", m.Host), "write starttls or tls; none is for a server on this machine")
	}
	if m.Password.Given() != (m.Username != "") {
		o.wrong(v, "username and password come together", "give both, or neither")
	}
	o.require("from", "from: ductward@example.org")
	o.require("to", "to: [you@example.org]")
	m.From = o.mailbox("from", o.get("from"))
	for _, to := range o.list("to") {
		if a := o.mailbox("to", to); a != "" {
			m.To = append(m.To, a)
		}
	}
	o.close()
	return m
}

// mailbox reads one mail address without a name beside it.
func (o *object) mailbox(key string, v *value) string {
	if v == nil {
		return ""
	}
	a, err := mail.ParseAddress(v.text)
	if v.shape != scalar || err != nil || a.Name != "" || a.Address != v.text {
		o.wrong(v, fmt.Sprintf("%s %s is not a mail address", key, v), "write it as you@example.org")
		return ""
	}
	return a.Address
}

// hostPort splits HOST or HOST:PORT.
func (o *object) hostPort(v *value, key, text, otherwise string) (string, int) {
	if text == "" {
		return "", 0
	}
	host, port, err := net.SplitHostPort(text)
	if err != nil {
		host, port, err = net.SplitHostPort(net.JoinHostPort(strings.Trim(text, "[]"), otherwise))
	}
	n, bad := strconv.Atoi(port)
	if err != nil || bad != nil || host == "" || n < 1 || n > 65535 || strings.ContainsAny(host, "/@ ") {
		o.wrong(v, fmt.Sprintf("%s %s is not a host with a port", key, redacted(text)), "write HOST:PORT, such as mail.example.org:"+otherwise)
		return "", 0
	}
	return host, n
}

// loopback tells whether a host is this machine.
func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

func (r *reader) syslog(v *value) *Syslog {
	o := r.object(v, "outbound syslog", "")
	s := &Syslog{CAFile: o.word("ca_file"), At: v.line}
	o.require("collector", "collector: tls://logs.example.org:6514")
	if c := o.get("collector"); c != nil {
		line, rest, _ := strings.Cut(o.word("collector"), "://")
		s.Line = SyslogLine(line)
		port := "514"
		switch s.Line {
		case SyslogTLS:
			port = "6514"
		case SyslogTCP, SyslogUDP:
			if s.CAFile != "" {
				o.wrong(o.get("ca_file"), "ca_file is given, but the line is not encrypted", "write tls://HOST:6514 as collector, or leave ca_file out")
			}
		default:
			o.wrong(c, fmt.Sprintf("collector %s begins with none of udp://, tcp:// and tls://", redacted(c.text)), "write tls://HOST:6514")
			rest = ""
		}
		s.Host, s.Port = o.hostPort(c, "collector", rest, port)
	}
	o.close()
	return s
}

func (r *reader) quiet(v *value) *Quiet {
	o := r.object(v, "outbound quiet_hours", "")
	q := &Quiet{Days: map[time.Weekday]bool{}}
	q.From, q.To = o.clock("from", 0), o.clock("to", 0)
	if o.has("from") != o.has("to") {
		o.wrong(v, "from and to come together", `write both, such as from: "18:00" and to: "07:00"`)
	}
	for _, d := range o.list("days") {
		if day, ok := o.day("days", d); ok {
			q.Days[day] = true
		}
	}
	if len(q.Days) == 7 {
		o.wrong(o.get("days"), "days names all seven days: nothing but the most urgent would ever be told", "leave at least one out")
	}
	o.close()
	return q
}

// clock reads a time of day.
func (o *object) clock(key string, otherwise Clock) Clock {
	w := o.word(key)
	if w == "" {
		return otherwise
	}
	t, err := time.Parse("15:04", w)
	if err != nil {
		o.wrong(o.get(key), fmt.Sprintf("%s %s is not a time of day", key, shown(w)), `write it as "07:30"`)
		return otherwise
	}
	return Clock(t.Hour()*60 + t.Minute())
}

var weekdays = []string{"sunday", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday"}

func (o *object) weekday(key string, otherwise time.Weekday) time.Weekday {
	if v := o.get(key); v != nil {
		if d, ok := o.day(key, v); ok {
			return d
		}
	}
	return otherwise
}

func (o *object) day(key string, v *value) (time.Weekday, bool) {
	for i, name := range weekdays {
		if v.shape == scalar && strings.ToLower(v.text) == name {
			return time.Weekday(i), true
		}
	}
	o.wrong(v, fmt.Sprintf("%s %s is not a day of the week", key, v), choose(v.text, weekdays))
	return 0, false
}
