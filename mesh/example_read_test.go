package mesh_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"

	"spotface/mesh"
)

// A text cloud with a header row, decimal commas and a point that stands
// twice.
func ExampleReadFrom() {
	file := "# unit: cm\nx;y;z\n1,5;0;0\n0;2;0\n0;0;2,5\n1,5;0;0\n"
	scan, err := mesh.ReadFrom(context.Background(), strings.NewReader(file), int64(len(file)), "cloud.csv", mesh.ReadOptions{})
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

// What is wrong with a file is said in one line, and can be acted upon.
func ExampleFormatError() {
	file := "v 0 0 0\nv 1 0 O\n"
	_, err := mesh.ReadFrom(context.Background(), strings.NewReader(file), int64(len(file)), "part.obj", mesh.ReadOptions{})
	fmt.Println(err)
	var bad *mesh.FormatError
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
	if err := mesh.WriteSTL(&file, scan); err != nil {
		fmt.Println(err)
		return
	}
	back, err := mesh.ReadFrom(context.Background(), bytes.NewReader(file.Bytes()), int64(file.Len()), "pyramid.stl", mesh.ReadOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(file.Len(), "bytes,", back.Source.Points, "corners,", back.Len(), "points,", len(back.Triangles), "triangles")
	// Output:
	// 384 bytes, 18 corners, 5 points, 6 triangles
}
