package daemon

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
)

// longestSocket is how many bytes the name of a socket may have: sun_path of struct sockaddr_un, less the 0 at its end, is
// 107 bytes on Linux (unix(7)) and 103 elsewhere.
const longestSocket = 103

// socketIn names the socket in a data folder for the kernel. One whose own name is too long goes by way of a descriptor of
// the folder, which let closes once the name has been used.
func socketIn(dir string) (name string, let func(), err error) {
	const descriptors = "/proc/self/fd"
	path := filepath.Join(dir, socketName)
	if len(path) <= longestSocket {
		return path, func() {}, nil
	}
	if _, err := os.Stat(descriptors); err != nil {
		return "", nil, fmt.Errorf("%s has %d bytes, and the name of a socket at most %d here: choose a data folder with a shorter name",
			path, len(path), longestSocket)
	}
	folder, err := os.Open(dir)
	if err != nil {
		return "", nil, err
	}
	let = func() { _ = folder.Close() } // nothing was written
	return filepath.Join(descriptors, strconv.Itoa(int(folder.Fd())), socketName), let, nil
}
