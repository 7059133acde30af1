package shop

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"
)

// outbound reads where state and alarms go.
func (r *reader) outbound(v *value) Outbound {
	if v == nil {
		return Outbound{}
	}
	o := r.object(v, "outbound", "")
	var out Outbound
	if m := o.get("mqtt"); m != nil {
		out.MQTT = r.broker(m)
	}
	r.deliveries(o, &out)
	o.close()
	return out
}

func (r *reader) broker(v *value) *MQTT {
	o := r.object(v, "outbound mqtt", "")
	m := &MQTT{Broker: o.word("broker"), Prefix: "ductward", Line: v.line}
	o.require("broker", "broker: tcp://localhost:1883")
	if why := badBroker(m.Broker); m.Broker != "" && why != "" {
		o.wrong(o.get("broker"), fmt.Sprintf("broker %s %s", redacted(m.Broker), why), "write tcp://HOST:PORT, or ssl://HOST:PORT for an encrypted line")
	}
	if p := o.word("prefix"); p != "" {
		m.Prefix = p
		if why := badTopic(p); why != "" {
			o.wrong(o.get("prefix"), fmt.Sprintf("prefix %s %s", shown(p), why), `write the first level of the topics, such as "ductward"`)
		}
	}
	m.ClientID, m.Username = o.word("client_id"), o.word("username")
	secret := o.secret("password")
	m.PasswordFile, m.PasswordEnv, m.CAFile = secret.File, secret.Env, o.word("ca_file")
	if secret.Given() && m.Username == "" {
		o.require("username", "the user that the password belongs to, as \"username: NAME\"")
	}
	if m.CAFile != "" && strings.HasPrefix(m.Broker, "tcp:") {
		o.wrong(o.get("ca_file"), "ca_file is given, but the line is not encrypted", "write ssl://HOST:PORT as broker, or leave ca_file out")
	}
	o.close()
	return m
}

// badBroker tells what is wrong with a broker's address, "" if nothing is.
func badBroker(address string) string {
	u, err := url.Parse(address)
	if err != nil || u.Host == "" || u.Hostname() == "" {
		return "is not an address"
	}
	port, err := strconv.Atoi(u.Port())
	switch {
	case u.User != nil:
		return "holds a user or password, which belong under username and password_file"
	case u.Scheme != "tcp" && u.Scheme != "ssl":
		return "begins with neither tcp:// nor ssl://"
	case err != nil || port < 1 || port > 65535:
		return "has no port"
	case u.Path != "" || u.RawQuery != "" || u.Fragment != "":
		return "has something behind its port"
	}
	return ""
}

// redacted quotes an address without what stands before its @, which may be a password.
func redacted(address string) string {
	if i := strings.LastIndexByte(address, '@'); i >= 0 {
		address = "…" + address[i:]
	}
	return shown(address)
}
