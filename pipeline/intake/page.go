package intake

import (
	"database/sql/driver"

	"evenlimb/pipeline/warehouse"
)

// page is the rows that were made of a stretch of a sheet and the memory that
// their cells stand in. A large file fills the same few pages again and again.
type page struct {
	rows   []warehouse.Row
	blocks [][]driver.Value // for the cells of many rows each
	block  int              // that is being filled
	filled int              // of it
}

// pages is how many pages there may be: one is filled while another is stored and
// a third waits.
const pages = 3

// blockRows is for how many rows the first block of a page has room; each has
// room for twice as many as the one before it, up to mostBlockRows.
const blockRows, mostBlockRows = 64, 2048

// cells returns room for the cells of the next row. What stood there before may
// still stand there.
func (p *page) cells(columns int) []driver.Value {
	if p.block < len(p.blocks) && len(p.blocks[p.block])-p.filled < columns {
		p.block, p.filled = p.block+1, 0
	}
	if p.block == len(p.blocks) {
		rows := min(blockRows<<len(p.blocks), mostBlockRows)
		p.blocks = append(p.blocks, make([]driver.Value, rows*columns))
	}
	from := p.filled
	p.filled += columns
	return p.blocks[p.block][from:p.filled:p.filled]
}

// turn hands over the page that was filled and begins another.
func (c *checker) turn() *page {
	full := c.page
	select {
	case c.page = <-c.used:
		c.rows, c.block, c.filled = c.rows[:0], 0, 0
	default:
		c.page = &page{}
	}
	return full
}

// giveBack lets a page be filled again. Nobody may hold on to rows of it.
func (c *checker) giveBack(p *page) {
	select {
	case c.used <- p:
	default:
	}
}
