import ca.uhn.fhir.batch2.jobs.config.Batch2JobsConfig;
import ca.uhn.fhir.context.FhirContext;
import ca.uhn.fhir.jpa.api.config.JpaStorageSettings;
import ca.uhn.fhir.jpa.api.config.ThreadPoolFactoryConfig;
import ca.uhn.fhir.jpa.batch2.JpaBatch2Config;
import ca.uhn.fhir.jpa.binary.api.IBinaryStorageSvc;
import ca.uhn.fhir.jpa.binstore.DatabaseBinaryContentStorageSvcImpl;
import ca.uhn.fhir.jpa.config.HapiJpaConfig;
import ca.uhn.fhir.jpa.config.r4.JpaR4Config;
import ca.uhn.fhir.jpa.config.util.HapiEntityManagerFactoryUtil;
import ca.uhn.fhir.jpa.model.config.PartitionSettings;
import ca.uhn.fhir.jpa.model.config.SubscriptionSettings;
import ca.uhn.fhir.jpa.model.dialect.HapiFhirH2Dialect;
import ca.uhn.fhir.jpa.provider.JpaSystemProvider;
import ca.uhn.fhir.jpa.subscription.channel.config.SubscriptionChannelConfig;
import ca.uhn.fhir.rest.api.EncodingEnum;
import ca.uhn.fhir.rest.server.RestfulServer;
import ca.uhn.fhir.rest.server.provider.ResourceProviderFactory;
import jakarta.persistence.EntityManagerFactory;
import java.net.InetAddress;
import java.net.InetSocketAddress;
import java.util.Properties;
import javax.sql.DataSource;
import org.apache.commons.dbcp2.BasicDataSource;
import org.eclipse.jetty.ee10.servlet.ServletContextHandler;
import org.eclipse.jetty.ee10.servlet.ServletHolder;
import org.springframework.beans.factory.config.ConfigurableListableBeanFactory;
import org.springframework.context.annotation.AnnotationConfigApplicationContext;
import org.springframework.context.annotation.Bean;
import org.springframework.context.annotation.Configuration;
import org.springframework.context.annotation.Import;
import org.springframework.orm.jpa.JpaTransactionManager;
import org.springframework.orm.jpa.LocalContainerEntityManagerFactoryBean;

/**
 * A FHIR R4 server that stores what it is sent, on the loopback address, with the
 * settings it has when nobody sets any. Arguments: the port and the file of its
 * database.
 */
public class Server {
  static String file;

  public static void main(String[] args) throws Exception {
    file = args[1];
    var context = new AnnotationConfigApplicationContext(Parts.class);
    var rest = new RestfulServer(context.getBean(FhirContext.class));
    rest.registerProviders(context.getBean("myResourceProvidersR4", ResourceProviderFactory.class).createProviders());
    rest.registerProvider(context.getBean("mySystemProviderR4", JpaSystemProvider.class));
    rest.setDefaultResponseEncoding(EncodingEnum.JSON);
    var jetty = new org.eclipse.jetty.server.Server(
        new InetSocketAddress(InetAddress.getLoopbackAddress(), Integer.parseInt(args[0])));
    var handler = new ServletContextHandler();
    handler.setContextPath("/");
    handler.addServlet(new ServletHolder(rest), "/fhir/*");
    jetty.setHandler(handler);
    jetty.start();
    jetty.join();
  }

  @Configuration
  @Import({JpaR4Config.class, HapiJpaConfig.class, JpaBatch2Config.class, Batch2JobsConfig.class, SubscriptionChannelConfig.class, ThreadPoolFactoryConfig.class})
  static class Parts {
    @Bean
    JpaStorageSettings storageSettings() {
      return new JpaStorageSettings();
    }

    @Bean
    PartitionSettings partitionSettings() {
      return new PartitionSettings();
    }

    @Bean
    SubscriptionSettings subscriptionSettings() {
      return new SubscriptionSettings();
    }

    @Bean
    IBinaryStorageSvc binaryStorage() {
      return new DatabaseBinaryContentStorageSvcImpl();
    }

    @Bean
    DataSource dataSource() {
      var source = new BasicDataSource();
      source.setUrl("jdbc:h2:file:" + file);
      source.setUsername("sa");
      source.setPassword("");
      return source;
    }

    @Bean
    LocalContainerEntityManagerFactoryBean entityManagerFactory(
        ConfigurableListableBeanFactory beans, FhirContext fhir, JpaStorageSettings settings, DataSource source) {
      var factory = HapiEntityManagerFactoryUtil.newEntityManagerFactory(beans, fhir, settings);
      factory.setPersistenceUnitName("fhir");
      factory.setDataSource(source);
      var p = new Properties();
      p.put("hibernate.hbm2ddl.auto", "update");
      p.put("hibernate.dialect", HapiFhirH2Dialect.class.getName());
      p.put("hibernate.search.enabled", "false");
      factory.setJpaProperties(p);
      return factory;
    }

    @Bean
    JpaTransactionManager transactionManager(EntityManagerFactory factory) {
      return new JpaTransactionManager(factory);
    }
  }
}
