package payload

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// maxRowBytes bounds one row, well above what the longest note takes with every
// quote in it written twice. A quote that is not closed within it is taken as a bad
// row of one line, so that a stray quote cannot swallow the rest of a file.
const maxRowBytes = 64 << 10

// rows parts RFC 4180 text into rows, one at a time, and goes on after a bad one.
type rows struct {
	r     *bufio.Reader
	back  [][]byte  // lines read ahead and given back, first first
	long  *RowError // a line that is too long, read ahead and given back behind them
	line  int       // number of the last line handed out
	cells []string
	text  []byte          // the row now read
	plain strings.Builder // rows without quotes, many in the same memory
	row   string          // it, as it came
	block int             // how much memory plain was given last
}

func newRows(r io.Reader) *rows {
	return &rows{r: bufio.NewReaderSize(r, maxRowBytes)}
}

// next returns the cells of the next row, valid until the next call, and the
// number of its first line. The error is io.EOF, that of the reader, or a
// [RowError], after which reading goes on.
func (x *rows) next() (cells []string, line int, err error) {
	for {
		text, err := x.nextLine()
		if err != nil {
			x.row = ""
			return nil, x.line, err
		}
		line = x.line
		if blank(text) {
			continue // RFC 4180 has no empty rows; editors leave them at the end
		}
		if bytes.IndexByte(text, '"') < 0 {
			x.row = x.keep(endOfRow(text))
			x.cells = splitPlain(x.row, x.cells[:0])
			return x.cells, line, nil
		}
		cells, err = x.quoted(text)
		if err != nil {
			return nil, line, &RowError{Line: line, Err: err}
		}
		return cells, line, nil
	}
}

func blank(text []byte) bool {
	space := len(text) == 0 || text[0] <= ' ' || text[0] >= utf8.RuneSelf // or the first byte of one
	return space && len(bytes.TrimSpace(text)) == 0
}

// endOfRow takes off the carriage return of a CRLF.
func endOfRow(text []byte) []byte { return bytes.TrimSuffix(text, []byte{'\r'}) }

// keep is a line as a string that stays.
func (x *rows) keep(line []byte) string {
	if x.plain.Cap()-x.plain.Len() < len(line) {
		x.block = min(max(2*x.block, 1<<10), maxRowBytes) // a device may post one row alone
		x.plain.Reset()
		x.plain.Grow(max(x.block, len(line)))
	}
	from := x.plain.Len()
	x.plain.Write(line)
	return x.plain.String()[from:]
}

// splitPlain parts a line without quotes.
func splitPlain(s string, cells []string) []string {
	for {
		i := strings.IndexByte(s, ',')
		if i < 0 {
			return append(cells, s)
		}
		cells = append(cells, s[:i])
		s = s[i+1:]
	}
}

// quoted reads a row with quotes, which may go on over further lines.
func (x *rows) quoted(first []byte) ([]string, error) {
	x.text = append(x.text[:0], first...)
	x.row = string(endOfRow(first))
	ahead := [][]byte{}
	for bytes.Count(x.text, []byte{'"'})%2 == 1 {
		more, err := x.nextLine()
		if err == nil {
			ahead = append(ahead, bytes.Clone(more))
		}
		if err != nil || len(x.text)+len(more) > maxRowBytes {
			if errors.As(err, &x.long) {
				x.line--
			}
			x.giveBack(ahead)
			return nil, errOpenQuote
		}
		x.text = append(append(x.text, '\n'), more...)
	}
	row := string(endOfRow(x.text))
	cells, err := splitQuoted(row, x.cells[:0])
	if err != nil {
		x.giveBack(ahead)
		return nil, err
	}
	x.row = row
	x.cells = cells
	return cells, nil
}

var (
	errOpenQuote  = errors.New("a quote is opened and not closed")
	errStrayQuote = errors.New("a quote stands inside a cell: write it twice, and the cell in quotes")
)

// splitQuoted parts a row by RFC 4180, to the byte. The library's reader turns
// CRLF inside a quoted cell into LF, so a note would not come back as it was.
func splitQuoted(s string, cells []string) ([]string, error) {
	for {
		cell, rest, more, err := firstCell(s)
		if err != nil {
			return nil, err
		}
		cells = append(cells, cell)
		if !more {
			return cells, nil
		}
		s = rest
	}
}

// firstCell takes the first cell off a row; more says that a comma followed it.
func firstCell(s string) (cell, rest string, more bool, err error) {
	if !strings.HasPrefix(s, `"`) {
		cell, rest, more = strings.Cut(s, ",")
		if strings.Contains(cell, `"`) {
			err = errStrayQuote
		}
		return cell, rest, more, err
	}
	end := 1
	for {
		i := strings.IndexByte(s[end:], '"')
		if i < 0 {
			return "", "", false, errOpenQuote
		}
		end += i + 1
		if !strings.HasPrefix(s[end:], `"`) {
			break
		}
		end++
	}
	cell, rest = strings.ReplaceAll(s[1:end-1], `""`, `"`), s[end:]
	if rest == "" {
		return cell, "", false, nil
	}
	if rest[0] != ',' {
		return "", "", false, errStrayQuote
	}
	return cell, rest[1:], true, nil
}

func (x *rows) giveBack(ahead [][]byte) {
	x.back = append(ahead, x.back...)
	x.line -= len(ahead)
}

// nextLine returns a line without its line feed, valid until the next call.
func (x *rows) nextLine() ([]byte, error) {
	if len(x.back) > 0 {
		text := x.back[0]
		x.back = x.back[1:]
		x.line++
		return text, nil
	}
	if long := x.long; long != nil {
		x.long = nil
		x.line++
		return nil, long
	}
	text, err := x.r.ReadSlice('\n')
	if errors.Is(err, bufio.ErrBufferFull) {
		x.line++
		return nil, x.skipLong()
	}
	if len(text) == 0 && err != nil {
		return nil, err
	}
	x.line++
	if x.line == 1 {
		text = bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))
	}
	return bytes.TrimSuffix(text, []byte{'\n'}), nil
}

// skipLong reads to the end of a line that is longer than a row may be.
func (x *rows) skipLong() error {
	for {
		_, err := x.r.ReadSlice('\n')
		if errors.Is(err, bufio.ErrBufferFull) {
			continue
		}
		if err != nil && !errors.Is(err, io.EOF) {
			return err
		}
		return &RowError{Line: x.line, Err: fmt.Errorf("the line is longer than %d bytes", maxRowBytes)}
	}
}
