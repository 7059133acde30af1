// Package access keeps who may change something on the dashboard: the hash of the shop's password, and the devices of the
// shop, a screen on the wall or a phone, that were trusted for long.
//
// Both lie in the data folder beside the store, as small files that their owner alone may read. The password is set from
// the board's own shell, and the file is read again at each use, so that a new one holds at once. A device keeps a random
// token in a cookie; the folder holds a file a device, called by the token's hash, so that whoever reads the folder has no
// token, one process can take away what another lists, and no two write the same file. A device is trusted by the password
// that held then: a new password ends all of them.
//
// The package asks nobody and counts no attempts; the dashboard does.
package access
