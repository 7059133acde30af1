package shop

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const delivering = `
shop: Elm Lane joinery
site: {time_zone: Europe/Berlin}
collectors:
  - collector: main
    sensors:
      - {sensor: filter drop, measures: filter drop, from: {i2c: 1, chip: abp2, address: 0x28, span: 2.5 kPa}}
outbound:
  webhooks:
    - {webhook: office, url: "https://hooks.example.org/dust", secret_file: /etc/ductward/webhook}
  mail:
    server: mail.example.org
    username: watch
    password_env: DUCTWARD_MAIL
    from: watch@example.org
    to: [ann@example.org, ben@example.org]
  syslog: {collector: "tls://[2001:db8::7]:6514", ca_file: /etc/ductward/ca.pem}
  quiet_hours: {from: 18:00, to: "07:00", days: [Saturday, sunday]}
  daily: 06:45
  weekly: {day: friday, at: "16:00"}
  give_up_after: 2 days
`

func TestWhoIsTold(t *testing.T) {
	s, problems := Parse("shop.yaml", []byte(delivering))
	require.NoError(t, Errors(problems))
	o := s.Outbound
	assert.Equal(t, []string{"webhook/office", "mail", "syslog"}, o.Targets())
	assert.Equal(t, Mail{Host: "mail.example.org", Port: 587, Username: "watch", Password: Secret{Env: "DUCTWARD_MAIL"},
		From: "watch@example.org", To: []string{"ann@example.org", "ben@example.org"}, Line: 12}, *o.Mail)
	assert.Equal(t, "2001:db8::7", o.Syslog.Host)
	assert.Equal(t, 6514, o.Syslog.Port)
	assert.Equal(t, Clock(6*60+45), o.Daily)
	assert.Equal(t, Weekly{Day: time.Friday, At: 16 * 60}, o.Weekly)
	assert.Equal(t, 48*time.Hour, o.GiveUp)
}

func TestQuietHours(t *testing.T) {
	s, _ := Parse("shop.yaml", []byte(delivering))
	q, zone := s.Outbound.Quiet, s.Site.Location
	day := func(d, h, m int) time.Time { return time.Date(2026, time.March, d, h, m, 0, 0, zone) } // the 2nd is a Monday
	for _, c := range []struct {
		name  string
		at    time.Time
		until time.Time // zero: not quiet
	}{
		{"at work", day(2, 12, 0), time.Time{}},
		{"it begins", day(2, 18, 0), day(3, 7, 0)},
		{"after midnight", day(3, 2, 0), day(3, 7, 0)},
		{"it ends", day(3, 7, 0), time.Time{}},
		{"Friday evening to Monday morning", day(6, 18, 30), day(9, 7, 0)},
		{"Saturday noon", day(7, 12, 0), day(9, 7, 0)},
		{"the night of the change to summer time", day(29, 1, 0), day(30, 7, 0)},
	} {
		until, quiet := q.Until(c.at)
		assert.Equal(t, !c.until.IsZero(), quiet, c.name)
		if quiet {
			assert.True(t, until.Equal(c.until), "%s: %v, not %v", c.name, until, c.until)
		}
	}
	_, quiet := (*Quiet)(nil).Until(day(2, 3, 0))
	assert.False(t, quiet, "without quiet hours it is never quiet")
}
