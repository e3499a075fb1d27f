// Reads a STEP file with Open CASCADE and prints what it holds, a fact on each line, for
// the tests of report/step. Built and run behind the build tag "outside".
#include <BRepAdaptor_Surface.hxx>
#include <BRepCheck_Analyzer.hxx>
#include <BRepGProp.hxx>
#include <GProp_GProps.hxx>
#include <Interface_Check.hxx>
#include <Interface_CheckIterator.hxx>
#include <STEPControl_Reader.hxx>
#include <TopExp_Explorer.hxx>
#include <TopoDS.hxx>
#include <TopoDS_Face.hxx>
#include <TopoDS_Shape.hxx>
#include <XSControl_TransferReader.hxx>
#include <XSControl_WorkSession.hxx>
#include <cstdio>

static int count(const TopoDS_Shape &s, TopAbs_ShapeEnum kind) {
  int n = 0;
  for (TopExp_Explorer e(s, kind); e.More(); e.Next()) n++;
  return n;
}

static int complaints(const Interface_CheckIterator &from) {
  int n = 0;
  Interface_CheckIterator it = from;
  for (it.Start(); it.More(); it.Next()) {
    n += it.Value()->NbFails() + it.Value()->NbWarnings();
    for (int i = 1; i <= it.Value()->NbFails(); i++) printf("fail %s\n", it.Value()->CFail(i));
    for (int i = 1; i <= it.Value()->NbWarnings(); i++) printf("warning %s\n", it.Value()->CWarning(i));
  }
  return n;
}

int main(int argc, char **argv) {
  STEPControl_Reader reader;
  if (argc != 2 || reader.ReadFile(argv[1]) != IFSelect_RetDone) return 1;
  int bad = complaints(reader.WS()->ModelCheckList());
  reader.TransferRoots();
  bad += complaints(reader.WS()->TransferReader()->LastCheckList());
  TopoDS_Shape s = reader.OneShape();
  if (s.IsNull()) return 1;
  GProp_GProps g;
  BRepGProp::VolumeProperties(s, g);
  printf("complaints %d\nvalid %d\nsolids %d\nshells %d\nfaces %d\nvolume %.9f\n", bad,
         BRepCheck_Analyzer(s).IsValid() ? 1 : 0, count(s, TopAbs_SOLID), count(s, TopAbs_SHELL),
         count(s, TopAbs_FACE), g.Mass());
  for (TopExp_Explorer e(s, TopAbs_FACE); e.More(); e.Next()) {
    BRepAdaptor_Surface a(TopoDS::Face(e.Current()));
    switch (a.GetType()) {
    case GeomAbs_Plane: {
      gp_Pnt p = a.Plane().Location();
      printf("plane %.12f %.12f %.12f\n", p.X(), p.Y(), p.Z());
      break;
    }
    case GeomAbs_Cylinder: {
      gp_Pnt p = a.Cylinder().Location();
      printf("cylinder %.12f %.12f %.12f\n", a.Cylinder().Radius(), p.X(), p.Y());
      break;
    }
    case GeomAbs_Cone: {
      gp_Pnt p = a.Cone().Location();
      printf("cone %.12f %.12f %.12f\n", a.Cone().SemiAngle(), p.X(), p.Y());
      break;
    }
    default:
      printf("other\n");
    }
  }
  return 0;
}
