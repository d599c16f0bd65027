import ca.uhn.fhir.context.FhirContext;
import ca.uhn.fhir.context.support.DefaultProfileValidationSupport;
import ca.uhn.fhir.validation.FhirValidator;
import ca.uhn.fhir.validation.ResultSeverityEnum;
import ca.uhn.fhir.validation.ValidationOptions;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.function.Consumer;
import org.hl7.fhir.common.hapi.validation.support.CommonCodeSystemsTerminologyService;
import org.hl7.fhir.common.hapi.validation.support.InMemoryTerminologyServerValidationSupport;
import org.hl7.fhir.common.hapi.validation.support.PrePopulatedValidationSupport;
import org.hl7.fhir.common.hapi.validation.support.SnapshotGeneratingValidationSupport;
import org.hl7.fhir.common.hapi.validation.support.ValidationSupportChain;
import org.hl7.fhir.common.hapi.validation.validator.FhirInstanceValidator;
import org.hl7.fhir.r4.model.Bundle;
import org.hl7.fhir.r4.model.CodeSystem;
import org.hl7.fhir.r4.model.Composition;
import org.hl7.fhir.r4.model.Reference;

/**
 * Holds every file against FHIR R4 and its Composition against the demands of an
 * operative note, with the validator that many FHIR servers use. Arguments: the
 * table of demands, our code system, the site's mapping, then the files. Codes of
 * the mapping are allowed: the validator knows an older edition of their systems.
 * It first changes the first file in ways that must be refused.
 */
public class Check {
  public static void main(String[] args) throws Exception {
    var fhir = FhirContext.forR4();
    var known = new PrePopulatedValidationSupport(fhir);
    known.addStructureDefinition(Demands.note(Demands.read(Path.of(args[0]))));
    known.addStructureDefinition(Demands.bundle());
    known.addCodeSystem(fhir.newJsonParser().parseResource(CodeSystem.class, Files.readString(Path.of(args[1]))));
    var allowed = new ArrayList<String>();
    for (String line : Files.readAllLines(Path.of(args[2]))) {
      String[] c = line.split(",");
      if (!line.startsWith("#") && c.length > 3 && c[2].contains(":")) allowed.add(c[2] + "#" + c[3]);
    }
    var chain = new ValidationSupportChain(known, new DefaultProfileValidationSupport(fhir),
        new CommonCodeSystemsTerminologyService(fhir), new InMemoryTerminologyServerValidationSupport(fhir),
        new SnapshotGeneratingValidationSupport(fhir));
    var validator = fhir.newValidator();
    validator.registerValidatorModule(new FhirInstanceValidator(chain));

    List<Path> files = new ArrayList<>();
    for (int i = 3; i < args.length; i++) files.add(Path.of(args[i]));
    if (files.isEmpty()) throw new IllegalArgumentException("no file: nothing was checked");
    int bad = selftest(fhir, validator, allowed, Files.readString(files.get(0)));
    Map<String, Integer> kinds = new LinkedHashMap<>();
    for (Path f : files) {
      var faults = faults(validator, allowed, Files.readString(f));
      faults.forEach(x -> System.err.println(f.getFileName() + ": " + x));
      if (!faults.isEmpty()) bad++;
      kinds.merge(f.getFileName().toString().replaceAll("^.*\\.(bundle|document)\\.json$", "$1"), 1, Integer::sum);
    }
    System.out.println("operative note profile: " + files.size() + " files " + kinds + ", " + bad + " refused");
    System.exit(bad == 0 ? 0 : 1);
  }

  static List<String> faults(FhirValidator validator, List<String> allowed, String text) {
    var out = new ArrayList<String>();
    var result = validator.validateWithResult(text, new ValidationOptions().addProfile(Demands.BUNDLE));
    for (var m : result.getMessages()) {
      if (m.getSeverity().ordinal() < ResultSeverityEnum.ERROR.ordinal()) continue;
      if (allowed.stream().anyMatch(m.getMessage()::contains)) continue;
      out.add(m.getLocationString() + ": " + m.getMessage());
    }
    return out;
  }

  /** Changes that the demands forbid; each must be found, and only by its words. */
  static int selftest(FhirContext fhir, FhirValidator validator, List<String> allowed, String text) {
    Map<String, Consumer<Composition>> changes = new LinkedHashMap<>();
    changes.put("Composition.custodian", c -> c.setCustodian(null));
    changes.put("Composition.language", c -> c.setLanguage(null));
    changes.put("Composition.confidentiality", c -> c.setConfidentiality(Composition.DocumentConfidentiality.N));
    changes.put("legal", c -> {
      for (int i = 0; i < 2; i++) {
        c.addAttester().setMode(Composition.CompositionAttestationMode.LEGAL)
            .setParty(new Reference().setType("Practitioner").setDisplay("Test"));
      }
    });
    changes.put("blood-loss", c -> c.getSection().removeIf(s -> s.getCode().getCodingFirstRep().getCode().equals("59770-8")));
    changes.put("description", c -> c.addSection(c.getSection().stream()
        .filter(s -> s.getCode().getCodingFirstRep().getCode().equals("29554-3")).findFirst().orElseThrow()));
    changes.put("title", c -> c.getSection().forEach(s -> s.setTitle(null)));
    changes.put("author", c -> c.setAuthor(List.of(c.getCustodian())));
    int missed = 0;
    for (var change : changes.entrySet()) {
      var b = fhir.newJsonParser().parseResource(Bundle.class, text);
      change.getValue().accept((Composition) b.getEntryFirstRep().getResource());
      var faults = faults(validator, allowed, fhir.newJsonParser().encodeResourceToString(b));
      if (faults.stream().anyMatch(f -> f.contains(change.getKey()))) continue;
      System.err.println("self-test: a fault in " + change.getKey() + " was not found: " + faults);
      missed++;
    }
    System.out.println("operative note profile self-test: " + (changes.size() - missed) + " of " + changes.size() + " faults found");
    return missed;
  }
}
