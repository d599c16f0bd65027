import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import org.hl7.fhir.r4.model.CodeType;
import org.hl7.fhir.r4.model.CodeableConcept;
import org.hl7.fhir.r4.model.Coding;
import org.hl7.fhir.r4.model.ElementDefinition;
import org.hl7.fhir.r4.model.ElementDefinition.DiscriminatorType;
import org.hl7.fhir.r4.model.ElementDefinition.SlicingRules;
import org.hl7.fhir.r4.model.Enumerations.FHIRVersion;
import org.hl7.fhir.r4.model.Enumerations.PublicationStatus;
import org.hl7.fhir.r4.model.StructureDefinition;

/** Turns the table of demands into profiles that a general validator understands. */
class Demands {
  static final String BASE = "http://hl7.org/fhir/StructureDefinition/";
  static final String NOTE = "https://graftnote.example/StructureDefinition/operative-note-demands";
  static final String BUNDLE = "https://graftnote.example/StructureDefinition/operative-note-bundle";

  record Row(String element, int min, String max, String what) {}

  static List<Row> read(Path file) throws Exception {
    var rows = new ArrayList<Row>();
    for (String line : Files.readAllLines(file)) {
      if (line.isEmpty() || line.startsWith("#")) continue;
      String[] c = line.split("\t", -1);
      rows.add(new Row(c[0], Integer.parseInt(c[1]), c[2], c.length > 3 ? c[3] : ""));
    }
    return rows;
  }

  /** The Composition's profile. */
  static StructureDefinition note(List<Row> rows) {
    var sd = profile(NOTE, "Composition", BASE + "clinicaldocument");
    var d = sd.getDifferential();
    at(sd, "Composition").setPath("Composition");
    boolean attesters = false;
    boolean sections = false;
    for (Row r : rows) {
      String[] at = r.element().split(":");
      String path = "Composition." + at[0];
      if (at.length == 1) {
        var e = occurs(d.addElement(), path, path, r);
        if (at[0].equals("type")) e.setPattern(loinc(r.what()));
        else refer(e, r.what());
        continue;
      }
      if (at[0].equals("attester") && !attesters) {
        attesters = true;
        slice(d.addElement(), path, DiscriminatorType.VALUE, "mode");
      }
      if (at[0].equals("section") && !sections) {
        sections = true;
        slice(d.addElement(), path, DiscriminatorType.VALUE, "code");
      }
      String id = path + ":" + at[1];
      occurs(d.addElement(), id, path, r).setSliceName(at[1]);
      if (at[0].equals("attester")) {
        at(sd, id + ".mode").setPath(path + ".mode").setFixed(new CodeType(at[1]));
        refer(at(sd, id + ".party").setPath(path + ".party").setMin(1), r.what());
      } else {
        at(sd, id + ".title").setPath(path + ".title").setMin(1);
        at(sd, id + ".code").setPath(path + ".code").setMin(1).setPattern(loinc(r.what()));
        at(sd, id + ".text").setPath(path + ".text").setMin(1);
      }
    }
    return sd;
  }

  /** A Bundle whose one Composition has the profile above. */
  static StructureDefinition bundle() {
    var sd = profile(BUNDLE, "Bundle", BASE + "Bundle");
    var d = sd.getDifferential();
    at(sd, "Bundle").setPath("Bundle");
    slice(d.addElement(), "Bundle.entry", DiscriminatorType.TYPE, "resource");
    at(sd, "Bundle.entry:note").setPath("Bundle.entry").setSliceName("note").setMin(1).setMax("1");
    at(sd, "Bundle.entry:note.resource").setPath("Bundle.entry.resource").setMin(1)
        .addType().setCode("Composition").addProfile(NOTE);
    return sd;
  }

  private static StructureDefinition profile(String url, String type, String base) {
    var sd = new StructureDefinition();
    sd.setUrl(url).setName(type + "Demands").setStatus(PublicationStatus.ACTIVE).setFhirVersion(FHIRVersion._4_0_1)
        .setKind(StructureDefinition.StructureDefinitionKind.RESOURCE).setAbstract(false).setType(type)
        .setBaseDefinition(base).setDerivation(StructureDefinition.TypeDerivationRule.CONSTRAINT);
    sd.setId(url.substring(url.lastIndexOf('/') + 1));
    return sd;
  }

  private static ElementDefinition at(StructureDefinition sd, String id) {
    var e = sd.getDifferential().addElement();
    e.setId(id);
    return e;
  }

  private static ElementDefinition occurs(ElementDefinition e, String id, String path, Row r) {
    e.setId(id);
    return e.setPath(path).setMin(r.min()).setMax(r.max());
  }

  private static void slice(ElementDefinition e, String path, DiscriminatorType how, String by) {
    e.setId(path);
    e.setPath(path).getSlicing().setRules(SlicingRules.OPEN).addDiscriminator().setType(how).setPath(by);
  }

  private static void refer(ElementDefinition e, String types) {
    if (types.isEmpty()) return;
    var t = e.addType().setCode("Reference");
    for (String type : types.split(" ")) t.addTargetProfile(BASE + type);
  }

  private static CodeableConcept loinc(String code) {
    return new CodeableConcept().addCoding(new Coding().setSystem("http://loinc.org").setCode(code));
  }
}
