package scanio_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"spotface/mesh"
	"spotface/mesh/scanio"
)

// A text cloud with a header row, decimal commas and a point that is
// twice.
func ExampleReadFrom() {
	file := "# unit: cm\nx;y;z\n1,5;0;0\n0;2;0\n0;0;2,5\n1,5;0;0\n"
	scan, err := scanio.ReadFrom(context.Background(), strings.NewReader(file), int64(len(file)), "cloud.csv", scanio.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(scan.Len(), "points,", scan.Removed.Duplicate, "repeated; unit", scan.Source.Unit, scan.Source.UnitSource)
	p := scan.Point(0)
	fmt.Printf("first at %g, %g, %g mm\n", p.X, p.Y, p.Z)
	fmt.Println(scan.Warnings[0])
	// Output:
	// 3 points, 1 repeated; unit cm file
	// first at 15, 0, 0 mm
	// The numbers were read with a comma for the decimal sign.
}

// Points for a fit come in double precision and in file order, repeated ones
// included; two columns are a figure in a plane (here the six points of Gander,
// Golub and Strebel, BIT 34 (1994) 558-578).
func ExampleReadPoints() {
	dir, err := os.MkdirTemp("", "points")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "circle.csv")
	if err := os.WriteFile(path, []byte("x,y\n1,7\n2,6\n5,8\n7,7\n9,5\n3,7\n"), 0o600); err != nil {
		fmt.Println(err)
		return
	}
	pts, _, err := scanio.ReadPoints(context.Background(), path)
	fmt.Println(len(pts), "points, the last at", pts[5].X, pts[5].Y, pts[5].Z, err)
	// Output:
	// 6 points, the last at 3 7 0 <nil>
}

// What is wrong with a file is said in one line, and can be acted upon.
func ExampleFormatError() {
	file := "v 0 0 0\nv 1 0 O\n"
	_, err := scanio.ReadFrom(context.Background(), strings.NewReader(file), int64(len(file)), "part.obj", scanio.Options{})
	fmt.Println(err)
	var bad *scanio.FormatError
	if errors.As(err, &bad) {
		fmt.Println("line", bad.Line)
	}
	// Output:
	// part.obj: OBJ line 2: not a number: "O": correct the line or export the scan again
	// line 2
}

// A mesh written as binary STL and read back: six facets of three corners
// each are welded into five points.
func ExampleWriteSTL() {
	scan := &mesh.Scan{
		Offsets:   []mesh.Vec32{{0, 0, 0}, {10, 0, 0}, {10, 10, 0}, {0, 10, 0}, {5, 5, 7}},
		Triangles: [][3]int32{{0, 2, 1}, {0, 3, 2}, {0, 1, 4}, {1, 2, 4}, {2, 3, 4}, {3, 0, 4}},
	}
	var file bytes.Buffer
	if err := scanio.WriteSTL(&file, scan); err != nil {
		fmt.Println(err)
		return
	}
	back, err := scanio.ReadFrom(context.Background(), bytes.NewReader(file.Bytes()), int64(file.Len()), "pyramid.stl", scanio.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(file.Len(), "bytes,", back.Source.Points, "corners,", back.Len(), "points,", len(back.Triangles), "triangles")
	// Output:
	// 384 bytes, 18 corners, 5 points, 6 triangles
}
