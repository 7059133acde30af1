package service

import (
	"fmt"
	"strings"
)

// The places, under the root.
const (
	program  = "/usr/local/bin/ductward"
	shopFile = "/etc/ductward/shop.yaml"
	data     = "/var/lib/ductward"
	unitFile = "/etc/systemd/system/ductward.service"
	wanted   = "/etc/systemd/system/multi-user.target.wants/ductward.service"
	userFile = "/etc/sysusers.d/ductward.conf"
)

// unit is the service as systemd reads it.
//
// Not taken away, since the program needs it: the devices of the buses and serial ports; /proc beyond processes and the
// reading of /sys, by which periph finds out which board it runs on; the network, for the dashboard and the broker.
const unit = `# Written by "ductward install". Put changes into ductward.service.d/*.conf, which stay when it is installed anew.
[Unit]
Description=Watch over the workshop's dust extraction
After=local-fs.target network.target time-sync.target
StartLimitIntervalSec=0

[Service]
Type=notify
ExecStart=%[1]s
User=ductward
Group=ductward
StateDirectory=ductward
StateDirectoryMode=0750
UMask=0027
%[2]sRestart=always
RestartSec=5
# Opening and repairing the store of many years takes a small board a while.
TimeoutStartSec=10min
TimeoutStopSec=1min
WatchdogSec=3min

NoNewPrivileges=yes
CapabilityBoundingSet=%[3]s
AmbientCapabilities=%[3]s
ProtectSystem=strict
ProtectHome=yes
PrivateTmp=yes
PrivateMounts=yes
PrivateIPC=yes
ProtectKernelTunables=yes
ProtectKernelModules=yes
ProtectKernelLogs=yes
ProtectControlGroups=yes
ProtectClock=yes
ProtectHostname=yes
ProtectProc=invisible
RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
RemoveIPC=yes
LockPersonality=yes
MemoryDenyWriteExecute=yes
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallFilter=~@privileged @resources
SystemCallErrorNumber=EPERM
DevicePolicy=closed
DeviceAllow=char-i2c rw
DeviceAllow=char-gpiochip rw
DeviceAllow=/dev/gpiomem rw
DeviceAllow=char-ttyS rw
DeviceAllow=char-ttyAMA rw
DeviceAllow=char-ttyUSB rw
DeviceAllow=char-ttyACM rw

[Install]
WantedBy=multi-user.target
`

// unitText is the unit for a dashboard's door.
func unitText(d Door) string {
	command := append([]string{program, "run", shopFile, "--data", data}, d.flags()...)
	return fmt.Sprintf(unit, strings.Join(command, " "), d.credentials(), d.capability())
}

// usersText makes the user and puts it into groups, as sysusers.d(5) reads it. A group that is not there is made: it then
// owns nothing, and does no harm.
func usersText(groups []string) string {
	text := "# Written by \"ductward install\".\nu ductward - \"dust extraction watch\" " + data + "\n"
	for _, g := range groups {
		text += "m ductward " + g + "\n"
	}
	return text
}
