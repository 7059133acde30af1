package trial

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"os"
)

// fileVersion is that of the file of results: results of different ones are not comparable.
const fileVersion = 1

// head is the first line of a file of results.
type head struct {
	Format  string `json:"format"`
	Version int    `json:"version"`
	Shop    string `json:"shop"`  // checksum of the trials' shop file
	Build   string `json:"build"` // of the program that made the results
}

const formatName = "ductward trial results"

// File is a file of results, a JSON object a line, to which each replicate is added as it is done.
type File struct{ f *os.File }

// OpenFile opens a file of results or begins one, and returns those that it holds already. Results of another version,
// shop or build are refused, since a figure of two programs is one of neither. A last line that an interrupt cut short
// is taken off.
func OpenFile(path, build string) (*File, []Result, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_APPEND, 0o644)
	if err != nil {
		return nil, nil, err
	}
	done, err := begin(f, head{formatName, fileVersion, fmt.Sprintf("%08x", crc32.ChecksumIEEE(shopFile)), build})
	if err != nil {
		return nil, nil, errors.Join(fmt.Errorf("%s: %w", path, err), f.Close())
	}
	return &File{f}, done, nil
}

// begin reads what a file holds, or writes its first line.
func begin(f *os.File, want head) ([]Result, error) {
	data, err := io.ReadAll(f)
	if err != nil {
		return nil, err
	}
	whole := bytes.LastIndexByte(data, '\n') + 1
	if err := f.Truncate(int64(whole)); err != nil {
		return nil, err
	}
	if whole == 0 {
		line, err := json.Marshal(want)
		if err == nil {
			_, err = f.Write(append(line, '\n'))
		}
		return nil, err
	}
	return readResults(data[:whole], want)
}

// readResults reads the lines of a file of results.
func readResults(data []byte, want head) ([]Result, error) {
	lines := bufio.NewScanner(bytes.NewReader(data))
	lines.Buffer(nil, 1<<24)
	var out []Result
	for n := 1; lines.Scan(); n++ {
		if n == 1 {
			var h head
			if err := json.Unmarshal(lines.Bytes(), &h); err != nil || h.Format != formatName {
				return nil, fmt.Errorf("line 1: this is no file of trial results; name one that a trial began, or a new one")
			}
			if h != want {
				return nil, fmt.Errorf("line 1: results of version %d, shop %s, build %s do not mix with those of version %d, "+
					"shop %s, build %s; name a new file", h.Version, h.Shop, h.Build, want.Version, want.Shop, want.Build)
			}
			continue
		}
		var r Result
		if err := json.Unmarshal(lines.Bytes(), &r); err != nil {
			return nil, fmt.Errorf("line %d: %w; take the line out, and its replicate is run again", n, err)
		}
		out = append(out, r)
	}
	return out, lines.Err()
}

// Add adds a result.
func (f *File) Add(r Result) error {
	line, err := json.Marshal(r)
	if err != nil {
		return err
	}
	_, err = f.f.Write(append(line, '\n'))
	return err
}

// Close closes the file.
func (f *File) Close() error { return f.f.Close() }
