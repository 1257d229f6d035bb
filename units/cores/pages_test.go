package cores

import "testing"

// TestLayPages: what lies in memory stays as it is, wherever the pages are laid.
func TestLayPages(t *testing.T) {
	blocks := make([][]byte, 300)
	for i := range blocks {
		if i%10 == 0 {
			LayPages()
		}
		blocks[i] = make([]byte, 32<<10)
		for j := range blocks[i] {
			blocks[i][j] = byte(i)
		}
	}
	for i, b := range blocks {
		for j := range b {
			if b[j] != byte(i) {
				t.Fatalf("byte %d of block %d is %d, expected %d", j, i, b[j], byte(i))
			}
		}
	}
}
