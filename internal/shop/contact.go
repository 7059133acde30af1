package shop

// ContactKind says what a contact tells.
type ContactKind int

// What a contact can tell, beside the positions of gates, selectors and the fan.
const (
	BinFull      ContactKind = iota // a level switch in or on the bin
	DustInReturn                    // a broken-filter switch in the air that goes back to the room
)

// contactWords are the words for what a contact tells, in the order of the ContactKind constants.
var contactWords = []string{BinFull: "bin full", DustInReturn: "dust in return"}

// String names it in the words of the shop file.
func (k ContactKind) String() string { return contactWords[k] }

// Contact is a switch of the collector that is closed where something is the matter: 1 on its channel, else 0. Its
// channel is "contact/NAME".
type Contact struct {
	Name  string
	Was   []string
	Tells ContactKind
	From  *Source
	Line  int
}

// ContactChannel names the channel of a contact: "contact/NAME".
func ContactChannel(contact string) string { return "contact/" + contact }

// contacts reads the contacts.
func (p *parts) contacts() {
	for _, v := range p.entries("contacts") {
		o := p.reader.object(v, "contact", "contact")
		c := &Contact{Name: o.name("contact", "bin level"), Was: o.was(), Line: v.line}
		c.Tells = ContactKind(max(0, o.oneOf("tells", contactWords)))
		o.require("tells", "one of "+quoted(contactWords))
		if from := o.get("from"); from != nil {
			c.From = o.closing(from, "from", "something is the matter", "write {gpio: PIN} or {mqtt: TOPIC}")
		}
		o.require("from", `{gpio: PIN, active: low}, {mqtt: TOPIC} or another source of one switch`)
		o.close()
		if c.Name != "" {
			p.names.contacts.add(o, o.get("contact"), "contact", c.Name, c.Was)
			p.Contacts = append(p.Contacts, c)
		}
	}
}
