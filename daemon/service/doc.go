// Package service makes the watch a service of a board that runs systemd, and takes it away again. What is to be done is a
// plan of steps, which can be shown before any of them is done.
//
// Its words. The root is the folder under which a system's files lie: "/" for the board itself, else that of an image that
// is being made, in which files are written and nothing is started. Places follow the Filesystem Hierarchy Standard 3.0:
// the program in /usr/local/bin (4.9), the shop file in /etc/ductward (3.7), the data in /var/lib/ductward (5.8), which
// systemd makes. So the rest of the system may be read-only.
//
// The service has a user of its own, in the groups that own the buses, and may do nothing else: systemd.exec(5) and
// systemd.resource-control(5) say what each line of its unit takes away. It needs no network to start.
package service
